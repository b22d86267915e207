"""What every output says before somebody rides the wheel (common practice, no source)."""

CAUTIONS = (
    "Wear eye protection when cutting and tensioning spokes; cut ends are sharp.",
    "Keep to the makers' limits on tension and lacing of hub, rim, spokes and nipples.",
    "Measure a second time before ordering, and have the finished wheel checked by a qualified mechanic.",
)
"""What is said beside every order."""
