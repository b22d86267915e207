"""How to prepare, in four drawings: made from the target's geometry and a model hub, for page and paper."""
