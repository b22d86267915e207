"""Carry what was seen in a photo as stored over to the picture as it is looked at."""

from __future__ import annotations

from hubsight.model.side import PhotoEvidence, Pixel, SaddleEvidence, SeenEdge


def displayed(point: Pixel, orientation: int, width: int, height: int) -> Pixel:
    """Return where a pixel of the stored array lies in the picture as it is looked at.

    Parameters
    ----------
    point
        Column, row in the array as stored.
    orientation
        EXIF orientation, 1 to 8.
    width, height
        Of the array as stored.
    """
    x, y = point
    right, bottom = width - 1 - x, height - 1 - y
    return {
        2: (right, y),
        3: (right, bottom),
        4: (x, bottom),
        5: (y, x),
        6: (bottom, x),
        7: (bottom, right),
        8: (y, right),
    }.get(orientation, (x, y))


def displayed_evidence(evidence: PhotoEvidence, orientation: int) -> PhotoEvidence:
    """Turn all that was seen in a photo into the picture as it is looked at."""

    def turn(point: Pixel) -> Pixel:
        return displayed(point, orientation, evidence.width, evidence.height)

    def turn_saddle(saddle: SaddleEvidence) -> SaddleEvidence:
        seen = turn(saddle.pixel)
        adjusted = turn((saddle.pixel[0] - saddle.residual[0], saddle.pixel[1] - saddle.residual[1]))
        residual = (seen[0] - adjusted[0], seen[1] - adjusted[1])
        return SaddleEvidence(pixel=seen, residual=residual, used=saddle.used)

    def turn_edge(edge: SeenEdge) -> SeenEdge:
        return edge.model_copy(update={"points": tuple(turn(point) for point in edge.points)})

    wide, high = evidence.width, evidence.height
    return evidence.model_copy(
        update={
            "width": high if orientation >= 5 else wide,
            "height": wide if orientation >= 5 else high,
            "saddles": tuple(turn_saddle(saddle) for saddle in evidence.saddles),
            "gauges": tuple(tuple(turn(point) for point in line) for line in evidence.gauges),
            "other_gauges": tuple(tuple(turn(point) for point in line) for line in evidence.other_gauges),
            "gauge_ends": tuple(turn(point) for point in evidence.gauge_ends),
            "gauge_end_outlines": tuple(turn(point) for point in evidence.gauge_end_outlines),
            "seats": tuple(turn(point) for point in evidence.seats),
            "crossing_points": tuple(turn(point) for point in evidence.crossing_points),
            "boss_outlines": tuple(tuple(turn(point) for point in line) for line in evidence.boss_outlines),
            "centrelines": tuple((turn(a), turn(b)) for a, b in evidence.centrelines),
            "axis": None if evidence.axis is None else turn(evidence.axis),
            "ends_seen": tuple(None if end is None else turn(end) for end in evidence.ends_seen),
            "edges": tuple(turn_edge(edge) for edge in evidence.edges),
        }
    )
