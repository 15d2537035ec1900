"""Spanish: every sentence of the pages is there, with the same figures in it."""

import ast
import gettext
import re
from pathlib import Path
from typing import get_args

import pytest
from django.utils.translation import templatize

import config
from jobs.code_profiles import PROFILES
from jobs.heatloss import U_W_PER_M2K
from jobs.ordering import BED_USES
from jobs.quantities import Use
from jobs.room_form import KINDS
from jobs.specification import NAMES
from jobs.survey import SUBSTRATES, SUPPLIED, SUPPLIERS
from scheduling.holds import REQUIRED, STANDING
from scheduling.waiting import SAYS

ROOT = Path(config.__file__).parent.parent
# Sentences of rooms lie with their app, all others with the project.
FOLDERS = [ROOT / app / "locale" / "es" / "LC_MESSAGES" for app in ("config", "jobs")]
# Notices and the certificate have their own words.
ELSEWHERE = {"notice.txt", "notice_mail.html", "notice_subject.txt", "certificate.html"}
# What is kept in English and heard again from its templates.
RULES = [
    *(f"readings/{name}.py" for name in ("element", "insulation", "sensor", "handover")),
    *(f"readings/{name}.py" for name in ("flags", "fault", "assess")),
    *(f"scheduling/{name}.py" for name in ("energize", "holds", "handover")),
    *(f"jobs/laying/{name}.py" for name in ("lay", "connect", "check", "check_mesh")),
]
PARTS = ("", "pages", "actions", "planner")  # of an app, where its sentences are
CALLS = {"_", "gettext", "gettext_lazy", "ngettext", "Sentence"}


def entries(folders=FOLDERS):
    """The sentences of the .po files: msgid -> every msgstr."""
    found = {}
    blocks = "\n\n".join((folder / "django.po").read_text() for folder in folders).split("\n\n")
    for block in blocks:
        parts: dict[str, str] = {}
        for line in block.splitlines():
            if match := re.match(r'(msg\w+(?:\[\d\])?) (".*")', line):
                name = match[1]
                parts[name] = ast.literal_eval(match[2])
            elif line.startswith('"'):
                parts[name] += ast.literal_eval(line)
        texts = [text for name, text in parts.items() if name.startswith("msgstr")]
        context = f"{parts['msgctxt']}\x04" if "msgctxt" in parts else ""  # as compiled
        found[context + parts["msgid"]] = (parts.get("msgid_plural"), texts)
    return found


def said_in(source: str) -> set[str]:
    """First arguments of gettext calls."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and node.args:
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            first = node.args[0]
            if name in CALLS and isinstance(first, ast.Constant) and isinstance(first.value, str):
                found.add(first.value)
    return found


def of_template(path: Path) -> set[str]:
    calls = re.findall(
        r"(?:_|gettext|ngettext|pgettext)\(\s*u?('(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\")",
        templatize(path.read_text()),
    )
    return {ast.literal_eval(call) for call in calls}


def of_rules() -> set[str]:
    """The sentences that rules put together with figures, which are `{}` here."""
    found = set()
    for path in RULES:
        tree = ast.parse((ROOT / path).read_text())
        for node in ast.walk(tree):
            if isinstance(node, ast.JoinedStr):
                parts = (getattr(part, "value", "") for part in node.values)
                found.add("".join(part if isinstance(part, str) else "{}" for part in parts))
    return {text for text in found if text.endswith(".") and re.search("[a-z]{2}", text)}


def of_figures() -> set[str]:
    """Words that sentences about a room's figures are made with."""
    found = {name.capitalize() for name in SUBSTRATES} | set(U_W_PER_M2K) | {"air change"}
    found |= {f"Who supplies the {thing}?" for thing in SUPPLIED}
    found |= {f"The {who}" for who in SUPPLIERS}
    found |= {one.leakage_rule for one in PROFILES.values()}
    found |= {one.inspection_rule for one in PROFILES.values()}
    found |= {*BED_USES, *(kind.capitalize() for kind in get_args(Use))}
    return found


def wanted() -> set[str]:
    found: set[str] = set()
    for app in ("config", "jobs", "readings", "scheduling"):
        for path in (ROOT / app / "templates").rglob("*.*"):
            if path.name not in ELSEWHERE and path.suffix in (".html", ".txt"):
                found |= of_template(path)
        for path in [path for part in PARTS for path in (ROOT / app / part).glob("*.py")]:
            text = path.read_text()
            if "gettext" in text or "Sentence(" in text:
                found |= said_in(text)
    found |= set(KINDS.values()) | of_figures()
    found |= set(NAMES.values()) | set(SAYS.values())
    found |= {words for pair in STANDING.values() for words in pair if "{" not in words} - {
        "A warning to another trade is not acknowledged.",
        "The trade confirms that it was read, or the office reaches them.",
    }
    found |= {words for pair in REQUIRED.values() for words in pair if "{" not in words}
    return found - {""}


def test_every_sentence_has_its_spanish():
    known = entries()
    assert sorted(text for text in wanted() if text not in known) == []


def test_every_sentence_that_is_kept_in_english_has_its_spanish():
    known = {re.sub(r"\{\w+\}", "{}", text) for text in entries()}
    assert sorted(of_rules() - known) == []


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.parts[-4])
def test_what_is_compiled_is_what_is_written(folder):
    with (folder / "django.mo").open("rb") as compiled:
        spanish = gettext.GNUTranslations(compiled)
    for text, (plural, texts) in entries([folder]).items():
        if not text:
            continue
        if plural:
            assert [spanish.ngettext(text, plural, n) for n in (1, 2)] == texts
        else:
            assert spanish.gettext(text) == texts[0], text


def test_figures_stand_in_every_translation():
    holes = re.compile(r"%\(\w+\)[sd]|\{\w*\}")
    for text, (plural, texts) in entries().items():
        for translated in texts:
            expected = set(holes.findall(plural or text)) if text else set()
            assert set(holes.findall(translated)) <= expected | set(holes.findall(text)), text
            if not plural and text:
                assert set(holes.findall(translated)) == expected, text
