"""A gauge or a locked caliper lying on the sheet: its two ends."""
