"""How a result is laid out: tables, drawings and overlays for screen, report and page."""
