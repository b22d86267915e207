"""Words in which somebody hid a page of his own."""

HOSTILE = "\"><script>alert(1)</script><img src=x onerror=alert(2)>'&amp;{{ 7 * 7 }}"
