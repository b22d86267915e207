"""From sightings to figures with budgets: one side, a lying hub, a flat ruler, the whole hub."""
