"""A whole job by clicking: from an empty installation to the certificate that its owner opens."""

from django.urls import reverse

from jobs.actions.links import first_secret
from scheduling.actions.papers import make_pdf
from scheduling.models import Certificate
from tests.factories import ELEMENT_SPEC

# Name, what it reads, highest value, last digit, percent, digits, test voltage.
RANGES = [
    ("200 Ω", "ohms", "200", "0.1", "0.5", "2", ""),
    ("20 kΩ", "ohms", "20000", "10", "0.5", "2", ""),
    ("500 MΩ", "megohms", "500", "0.1", "3", "5", "500"),
    ("750 V", "volts", "750", "0.1", "0.5", "2", ""),
    ("10 A", "amps", "10", "0.01", "0.5", "1", ""),
]
SHEETS = {
    "element": {f"element-{name}": value for name, value in ELEMENT_SPEC.items()},
    "sensor": {"sensor-points": "0 27445\n25 10000\n50 4160"},
    "control": {"control-volts": "230", "control-max_amps": "16"},
    # Ready the moment it is laid: the job is clicked through in a minute.
    "mortar": {
        "curing-law-kind": "arrhenius",
        "curing-law-reference_c": "20",
        "curing-lowest_c": "5",
        "curing-walk_after_hours": "0",
        "curing-next_layer_after_hours": "0",
        "curing-heat_after_hours": "0",
    },
}
# What the meter shows, by the words of the step: core to core, sensor and thermometer, load.
CORE, SENSOR, BESIDE, VOLTS, AMPS = "71.1", "12490", "20", "230", "3.23"


def found(page):
    """The company, what it builds and measures with, and its first crew: typed in by its office."""
    page.goto(reverse("first", args=[first_secret()]))
    fill(page, Name_of_the_company="Alder Floors", Time_zone="Europe/Oslo", Your_name="Olive")
    page.get_by_label("Your e-mail").fill("olive@alder.example")
    page.get_by_label("A password").fill("a long floor to walk")
    press(page, "Set it up")
    assert "How to begin" in page.inner_text("main")
    for kind, figures in SHEETS.items():
        page.goto("/catalogue/")
        page.locator(f"a[href='/catalogue/new/{kind}/']").click()
        fill(page, Name=f"Our {kind}", Data_sheet_that_prints_these_figures="Sheet 1")
        type_in(page, figures)
        press(page, "Take it in")
        assert page.get_by_role("heading", level=1).inner_text() == f"Our {kind}"
    page.goto("/catalogue/")
    follow(page, "What we measure with")
    follow(page, "Take in a meter")
    fill(page, Name="M-3")
    press(page, "Take in")
    names = (
        *("name", "quantity", "full_scale", "resolution", "percent_of_reading", "digits"),
        "test_volts",
    )
    for figures in RANGES:
        type_in(page, dict(zip(names, figures, strict=True)))
        press(page, "Add it")
    page.goto("/plan/")
    follow(page, "Put a crew together")
    fill(page, Name="North")
    page.get_by_label("prepare and lay").check()
    page.get_by_label("Olive").check()
    press(page, "Put it together")


def type_in(page, figures):
    for name, value in figures.items():
        field = page.locator(f"[name='{name}']")
        if field.first.get_attribute("type") == "radio":
            page.locator(f"[name='{name}'][value='{value}']").check()
        else:
            field.fill(str(value))


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


def test_a_whole_job_by_clicking(context_of, real_now, real_today):
    context = context_of(java_script_enabled=False, service_workers="block")
    page = context.new_page()
    found(page)
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
    page.get_by_label("Material").select_option(label="Our mortar")
    page.get_by_label("The heating cable lies in it").check()
    press(page, "Plan it")
    page.goto(job)
    follow(page, "Book a crew")
    page.get_by_label("Day").fill(real_today.isoformat())
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
    assert make_pdf(certificate_id=Certificate.objects.get().pk, at=real_now)
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
