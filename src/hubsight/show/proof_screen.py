"""A proof, and the history of proofs, as a terminal shows them."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from hubsight.job.proof import ProofDocument
from hubsight.kit.proofs import Proof, ProofWord, sum_up
from hubsight.model.refusal import Refusal
from hubsight.photo import camera_name

_WORDS: dict[ProofWord, str] = {
    "agrees": "they agree",
    "undecided": "too vague to tell",
    "doubted": "they hardly agree",
    "wrong": "they contradict each other",
}
"""How photos and caliper compare."""


def print_proof(console: Console, document: ProofDocument) -> None:
    """Print what came out, what it proves and what not."""
    proof = document.proof
    if document.refusal is not None:
        console.print(Text(document.refusal.sentence(), style="bold"))
    if proof is not None:
        console.print(f"The rod lies {proof.height:.0f} mm above the sheet in {proof.photos} photos.")
        console.print(_readings(proof))
        console.print(
            f"Photos less caliper: {proof.difference:+.2f} mm, E_n {proof.e_n:+.2f}: {_WORDS[proof.word]}"
        )
    for note in document.notes:
        console.print(Text(f"Note: {note}"))
    for sentence in document.sentences:
        console.print(Text(sentence))
    if document.kept is not None:
        console.print(Text(f"Kept in {document.kept}"), soft_wrap=True)


def _readings(proof: Proof) -> Table:
    table = Table("length by", "mm", "± u", box=None, header_style="")
    for column in table.columns[1:]:
        column.justify = "right"
    table.add_row("photos", f"{proof.length:.2f}", f"{proof.u:.2f}")
    table.add_row("caliper", f"{proof.caliper:.2f}", f"{proof.caliper_u:.2f}")
    return table


def print_proofs(console: Console, proofs: Sequence[Proof], troubles: Sequence[str]) -> None:
    """Print all proofs, the oldest first, and what they say together."""
    table = Table("day", "camera", "sheet", "photos", "caliper", "apart", "± u", "E_n", "", box=None)
    table.columns[0].no_wrap = True
    for column in table.columns[3:8]:
        column.justify, column.no_wrap = "right", True
    for proof in proofs:
        table.add_row(
            proof.date.isoformat(),
            camera_name(proof.camera.make, proof.camera.model) or "without tags",
            proof.target or "",
            f"{proof.length:.2f}",
            f"{proof.caliper:.2f}",
            f"{proof.difference:+.2f}",
            f"{proof.u_difference:.2f}",
            f"{proof.e_n:+.2f}",
            proof.word,
        )
    if proofs:
        console.print(table)
    for trouble in troubles:
        console.print(Text(f"Left out: {trouble}"))
    together = sum_up(proofs)
    sentences = [together.sentence()] if isinstance(together, Refusal) else together.sentences()
    for sentence in sentences:
        console.print(Text(sentence))
