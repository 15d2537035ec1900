"""The sheet of labels for a warmed room: one for the doorway, six for panel and boxes.

In English and Spanish always: whoever stands there reads one of them.
"""

from dataclasses import dataclass
from typing import Literal, NamedTuple

from jobs.qr import qr_svg

Paper = Literal["a4", "letter"]
PAPERS: tuple[Paper, ...] = ("a4", "letter")
DOORWAY_CODE_MM, SMALL_CODE_MM = 42.0, 22.0
"""How wide the codes are without their quiet zones; a phone reads them at arm's length."""
SMALL_LABELS = 6


class Said(NamedTuple):
    en: str
    es: str


HEAD = Said("Heating cable in this floor", "Cable calefactor en este piso")
DOORWAY = Said("Do not drill, nail, screw or cut.", "No perfore, clave, atornille ni corte.")
PANEL = Said("Isolate and prove dead", "Corte y verifique sin tensión")
PANEL_WHEN = Said("before work.", "antes de trabajar.")
ASK = Said("Ask here first", "Pregunte aquí primero")


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSheet:
    """Exactly what is printed."""

    paper: Paper
    place: str
    whom: str
    doorway_code: str
    small_code: str
    small_labels: range = range(SMALL_LABELS)
    head: Said = HEAD
    doorway: Said = DOORWAY
    panel: Said = PANEL
    panel_when: Said = PANEL_WHEN
    ask: Said = ASK


def label_sheet(
    *, url: str, street: str, room: str, contractor: str, phone: str, paper: Paper
) -> LabelSheet:
    """The sheet whose codes open `url`."""
    said = "Code of the address to ask before anything goes into this floor."
    return LabelSheet(
        paper=paper,
        place=f"{street} · {room}",
        whom=f"{contractor}, {phone}" if phone else contractor,
        doorway_code=qr_svg(url, size_mm=DOORWAY_CODE_MM, said=said),
        small_code=qr_svg(url, size_mm=SMALL_CODE_MM, said=said),
    )
