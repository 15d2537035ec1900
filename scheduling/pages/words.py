"""Words of pages for what the records hold as codes."""

from datetime import datetime
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from config.wording import in_language
from jobs.units import NO_BREAK
from readings.pages.words import STAGES
from scheduling.models import Layer
from scheduling.nextthing import NextThing
from scheduling.waiting import SAYS, Said
from scheduling.workload import ANY_CREW, CAN

TASKS = {
    "survey": _("survey"),
    "prepare": _("prepare"),
    "lay": _("lay"),
    "embed": _("cover with mortar"),
    "tile": _("tile"),
    "grout": _("grout"),
    "connect": _("connect"),
    "energize": _("switch on"),
    "other": _("other work"),
}
SKILLS = {skill: _(can) for skill, can in CAN.items() if skill != ANY_CREW}
BANDS = {
    "us": _("Us"),
    "mortar": _("Mortar"),
    "crews": _("Crews"),
    "trades": _("Other trades"),
    "customers": _("Customers"),
    "nobody": _("Nobody"),
}
NEEDS = {
    "people": _("Somebody or a cable could be hurt"),
    "proof": _("Last chance to measure"),
    "dates": _("A date that moves"),
    "papers": _("Papers"),
}
HALVES = {"am": _("am"), "pm": _("pm")}


def sentence(said: Said) -> str:
    figures = dict(said.figures)
    if stage := figures.get("stage"):
        figures["stage"] = str(STAGES.get(stage, stage))
    if task := figures.get("task"):
        figures["task"] = str(TASKS.get(task, task))
    if zone := figures.pop("zone", ""):
        for name in ("was", "day"):
            if at := figures.get(name):
                day = datetime.fromisoformat(at).astimezone(ZoneInfo(zone)).date()
                figures[name] = date_format(day, gettext("D j M Y")).replace(" ", NO_BREAK)
    if what := figures.get("what"):
        figures["what"] = in_language(what)
    said_so = gettext(SAYS[said.key]).format(**figures)
    return said_so[:1].upper() + said_so[1:]


# The head of a statement; the sentence below it gives the reason.
NEEDS_SHORT = {
    "visit": _("keep the other trade out"),
    "failed": _("find the cause"),
    "cover-unproven": _("measure before it is covered"),
    "undecided": _("measure again"),
    "late": _("heat comes after the due date"),
    "overdue": _("the due date has passed"),
    "raised": _("reach the other trade"),
    "moved": _("the date for heat moved"),
    "date-lost": _("the date for heat is lost"),
    "date-back": _("there is a date for heat again"),
    "held": _("something new stands in the way of heat"),
    "stopped": _("the warm-up was stopped"),
    "hold": _("something stands in the way of heat"),
    "sign": _("the electrician has to sign"),
    "issue": _("issue the certificate"),
}
EXPOSURES = {
    "none": _("No cable recorded in this floor."),
    "bare": _("Bare cable. Keep off this floor."),
    "wet": _("Fresh mortar over a heating cable. Keep off, no heat."),
    "embedded": _("Heating cable in this floor. Walk on it, never fasten into it."),
}
STILL_COLD = _("Heating cable in this floor. Walk on it, never fasten into it. No heat yet.")
WARM = _("heat may come on")
LOOK = _("See why")


def called(said: Said) -> str:
    return gettext("Call %(who)s") % {"who": said.figures["who"].partition(" (")[0]}


# To another trade: what is asked of it, and why.
KEEP = {
    "none": _("No cable lies here yet"),
    "bare": _("Keep off this floor"),
    "wet": _("Keep off this floor"),
    "embedded": _("Nothing may go into this floor"),
}
LIES = {
    "none": _("No heating cable is recorded in this floor yet."),
    "bare": _("A heating cable lies bare on it."),
    "wet": _("Fresh mortar over a heating cable."),
    "embedded": _("A heating cable lies in it, for good."),
}
ACTIVITIES = {
    "walking": _("Walk"),
    "carrying": _("Put loads down"),
    "wet-work": _("Work with water"),
    "cleaning-joints": _("Clean out joints"),
    "fastening": _("Fasten"),
    "cutting": _("Cut"),
    "drilling": _("Drill, nail, screw, cut"),
    "heating-room": _("Heat the room"),
    "switching-on": _("Switch this floor on"),
}

# To the owner: what to do with the floor as it is now.
OWNER_HEADS = {
    "none": _("Nothing lies here yet."),
    "bare": _("Keep off this floor."),
    "wet": _("Keep off. Leave it cold."),
    "embedded": _("Walk on it. Leave it cold."),
    "warm": _("The heat is on."),
    "warmed": _("The heat is on."),
}
OWNER_TEXTS = {
    "none": _("We come and lay the heating cable first."),
    "bare": _("The heating cable lies bare. Nobody walks on it, nothing is put down."),
    "wet": _("The mortar is fresh. Nobody walks on it, and the floor stays off."),
    "embedded": _("The mortar is still hardening. Please keep the room between 15 and 20 °C."),
    "warm": _("Raise it a little each day, as the table below says."),
    "warmed": _("The first days are over. Set it as you like, up to the last figure below."),
}

NEXT_HEADS = {
    "find-fault": _("find the fault"),
    "open-fault": _("mend the fault first"),
    "record-element": _("record what is laid here"),
    "thermometer": _("read the floor's temperature"),
    "wait": _("nothing to do but wait"),
    "heat": _("heat may come on"),
    "warm-up": _("tick off the step of the first heating"),
    "nothing": _("nothing is open here"),
}
NEXT_WHYS = {
    "find-fault": _("A check failed. Do not cover, do not switch on."),
    "open-fault": _("A fault of the element is open. Do not cover, do not switch on."),
    "record-element": _("The office adds the element with its serial and the ohms on its tag."),
    "measure-arrival": _("What comes broken out of the box goes back before it is laid."),
    "measure-laid": _("After the mortar nobody can get at the cable again."),
    "measure-covered": _("It shows whether covering hurt the cable."),
    "measure-handover": _("With it the electrician hands the floor over."),
    "place": _("Everything before it has passed. Say when it is laid: the hours count from then."),
    "thermometer": _("Hours that nobody measured count as cold, and heat comes later."),
    "wait": _("The floor is hardening, or somebody else has to come first."),
    "heat": _("Nothing stands in the way. The licensed electrician switches it on."),
    "warm-up": _("Its time is over. Read the floor first: too warm, and the heating stops."),
    "nothing": _("Heat is on, and everything was measured."),
}
NEXT_ACTS = {
    "find-fault": _("See the readings"),
    "open-fault": _("Look at the fault"),
    "place": _("It is laid"),
    "thermometer": _("Read the thermometer"),
    "warm-up": _("See the steps"),
}


def next_head(thing: NextThing, layer: Layer | None) -> str:
    if thing.key == "measure":
        return gettext("measure %(stage)s") % {"stage": STAGES[thing.stage]}
    if thing.key == "place" and layer is not None:
        return gettext("lay the %(layer)s") % {"layer": layer.material.name}
    return str(NEXT_HEADS[thing.key])


def next_why(thing: NextThing) -> str:
    key = f"measure-{thing.stage}" if thing.key == "measure" else thing.key
    return str(NEXT_WHYS[key])


def next_act(thing: NextThing) -> str:
    if thing.key == "measure":
        return ngettext("Start the reading", "Start the %(n)d readings", thing.readings) % {
            "n": thing.readings
        }
    return str(NEXT_ACTS.get(thing.key, ""))


# What is proven of a room beside its readings.
PROOFS = {
    "sensor": _("The floor sensor is laid"),
    "control": _("The control is fitted"),
    "leakage-protection": _("The leakage protection trips"),
    "electrician": _("The electrician’s inspection"),
    "open-fault": _("A fault is open (fail), or closed (pass)"),
}
CLEARS = {
    "installer": _("the installer"),
    "office": _("the office"),
    "electrician": _("the electrician"),
    "customer": _("the customer"),
}
