"""A whole job by clicking: from an empty company to the certificate that its owner opens."""

from scheduling.actions.certificates import make_pdf
from scheduling.models import Certificate
from tests.factories import (
    CURING_SPEC,
    CrewFactory,
    InstrumentFactory,
    InstrumentRangeFactory,
    MaterialFactory,
)

RANGES = [
    {},
    {"name": "20 kΩ", "full_scale": 20e3, "resolution": 10.0},
    {"name": "500 MΩ", "quantity": "megohms", "full_scale": 500.0, "test_volts": 500.0},
    {"name": "750 V", "quantity": "volts", "full_scale": 750.0},
    {"name": "10 A", "quantity": "amps", "full_scale": 10.0, "resolution": 0.01, "digits": 1.0},
]
# A mortar that is ready the moment it is laid: the job is clicked through in a minute.
AT_ONCE = {"walk_after_hours": 0.0, "next_layer_after_hours": 0.0, "heat_after_hours": 0.0}
# What the meter shows, by the words of the step: core to core, sensor and thermometer, load.
CORE, SENSOR, BESIDE, VOLTS, AMPS = "71.1", "12490", "20", "230", "3.23"


def supplies(alder, finn):
    own = {"contractor": alder}
    for kind, name in (("element", "Mat 6.2"), ("sensor", "Probe"), ("control", "Wall control")):
        MaterialFactory(kind=kind, name=name, **own)
    MaterialFactory(name="Quick mortar", curing=CURING_SPEC | AT_ONCE, **own)
    meter = InstrumentFactory(name="M-3", **own)
    for figures in RANGES:
        InstrumentRangeFactory(instrument=meter, **own, **figures)
    CrewFactory(name="North", **own).members.add(finn)


def press(page, name):
    page.get_by_role("button", name=name).first.click()
    page.wait_for_load_state()


def follow(page, name):
    assert page.get_by_role("link", name=name).count(), page.inner_text("main")
    page.get_by_role("link", name=name).first.click()
    page.wait_for_load_state()


def fill(page, **fields):
    for label, value in fields.items():
        page.get_by_label(label.replace("_", " "), exact=True).fill(value)


def measure(page):
    """Every reading of a stage, as a sound floor shows them."""
    page.get_by_role("link", name="measure").last.click()
    for _ in range(9):
        step = page.get_by_role("heading", level=1).inner_text()
        if "lead to ground" in step or "insulation" in step:
            press(page, "Meter shows over-range")
        else:
            value = CORE if "core to core" in step else SENSOR if "sensor" in step else AMPS
            page.locator("#id_value").fill(value)
            if "sensor" in step:
                page.locator("#id_at_c").fill(BESIDE)
            if "current" in step:
                page.locator("#id_volts").fill(VOLTS)
            press(page, "Check this reading")
        assert page.get_by_role("heading", level=1).inner_text() == "Pass", page.inner_text("main")
        if page.get_by_role("link", name="Next reading").count() == 0:
            return
        follow(page, "Next reading")
    raise AssertionError(page.inner_text("main"))


def test_a_whole_job_by_clicking(context_of, looker, alder, olive, finn, real_now):
    supplies(alder, finn)
    context = context_of(olive, java_script_enabled=False, service_workers="block")
    page = context.new_page()
    page.goto("/customers/new/")
    fill(page, Name="Ada Customer", Phone="+47 55 00 01 00")
    press(page, "Take in")
    follow(page, "Open a job")
    fill(page, What_it_is="Warm bath", Street_and_number="5 North Parade", Town="Nordby")
    page.get_by_label("Country").fill("NO")
    page.get_by_label("Supply, volts").fill("230")
    press(page, "Open it")
    job = page.url
    follow(page, "Add the first room")
    fill(page, Name_of_the_room="Bath", Width="3 m", Depth="2400")
    press(page, "Keep the room")
    room = page.url
    assert "3.00" in page.locator("svg.plan").text_content()
    for kind, tag in (("an element", "71.1"), ("a floor sensor", ""), ("a control", "")):
        follow(page, f"Record {kind}")
        if tag:
            page.get_by_label("Ohms on the tag").fill(tag)
        press(page, "Record it")
    follow(page, "Plan a layer")
    page.get_by_label("Material").select_option(label="Quick mortar")
    page.get_by_label("The heating cable lies in it").check()
    press(page, "Plan it")
    page.goto(job)
    follow(page, "Book a crew")
    page.get_by_label("Day").fill(real_now.date().isoformat())
    page.get_by_label("Task").select_option(label="lay")
    page.get_by_label("am", exact=True).check()
    press(page, "Book it")
    said = page.inner_text("main")
    assert "Lay" in said or "does not work" in said  # a weekend is told
    for _stage in ("arrival", "laid"):
        page.goto(room)
        follow(page, "Measure")
        follow(page, "Start the")
        measure(page)
    page.goto(room)
    follow(page, "Measure")
    follow(page, "It is laid")
    press(page, "It is laid")
    follow(page, "Start the")
    measure(page)
    for what in ("The leakage protection trips", "The electrician’s inspection"):
        page.goto(room)
        follow(page, "Record what is proven")
        page.get_by_label(what).check()
        page.get_by_label("Who answers for it").fill("Eli Electrician")
        page.get_by_label("Licence number").fill("L-100")
        press(page, "Record it")
    page.goto(room)
    follow(page, "Heat is on")
    press(page, "Record it")
    assert page.url == room, page.inner_text("main")
    page.goto(room.replace("/rooms/", "/field/rooms/"))
    follow(page, "At handover")
    measure(page)
    page.goto(job)
    follow(page, "Handover")
    for who in ("The licensed electrician", "The customer"):
        follow(page, "Sign off")
        page.get_by_label(who).check()
        page.get_by_label("Name", exact=True).fill("Eli Electrician")
        page.get_by_label("Licence number, of the electrician").fill("L-100")
        page.get_by_label("What is signed for").fill("Circuit and handover")
        press(page, "Sign")
    press(page, "Issue the certificate")
    assert "The paper is being made." in page.inner_text("main")
    make_pdf(certificate_id=Certificate.objects.get().pk, at=real_now)
    page.goto(job)
    follow(page, "Link for the owner")
    press(page, "Make the link")
    owner = page.get_by_label("The address").input_value()
    public = context_of(java_script_enabled=False).new_page()
    public.goto(owner[owner.index("/owner/") :])
    assert "Your floors are warm" in public.inner_text("main")
    paper = public.request.get(
        public.get_by_role("link", name="The certificate").get_attribute("href")
    )
    assert paper.headers["content-type"] == "application/pdf"
    assert paper.body().startswith(b"%PDF-")
