"""What trades and owners see: on a phone, without script, in both languages."""

from django.urls import reverse

from jobs.actions.links import OWNER_LINK_LASTS, make_link
from scheduling.actions.notices import link_to, review_visit
from scheduling.models import Notice
from tests.pages.world import build

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "java_script_enabled": False}


def addresses(olive, finn, now):
    world = build(olive, finn, now)
    world.visit.notices.all().delete()
    review_visit(visit=world.visit, at=now)
    notice = link_to(Notice.objects.get(), at=now)
    _, secret = make_link(job=world.job, purpose="owner", at=now, lasts=OWNER_LINK_LASTS)
    return notice[notice.index("/notice/") :], reverse("owner", args=[secret])


def test_pages_behind_links_can_be_read(context_of, looker, olive, finn, real_now):
    notice, owner = addresses(olive, finn, real_now)
    look = looker(context_of().new_page())
    room = Notice.objects.get().visit.room_id
    look.look(notice, "trade")
    look.look(f"{notice}?lang=es&room={room}&right=1200&into=900", "trade-es-asked")
    look.look(owner, "owner")
    look.look(f"{owner}?lang=es", "owner-es")
    look.look("/problems/stale/", "problem")
    assert look.complaints == []


def test_a_trade_asks_by_touch_and_confirms_by_name_without_script(
    context_of, olive, finn, real_now
):
    notice, _owner = addresses(olive, finn, real_now)
    page = context_of(**PHONE).new_page()
    page.goto(notice)
    page.locator("input.touch-narrow").tap(position={"x": 150, "y": 120})
    page.wait_for_url("**at288.x=150**")
    assert page.locator(".say h2").nth(1).inner_text() in (
        "Keep out",
        "Only after locating on site",
    )
    page.get_by_role("link", name="Confirm that you read this").tap()
    page.get_by_label("Your name").fill("Tam Plumber")
    page.get_by_role("button", name="I have read it").tap()
    page.get_by_role("heading", name="Read by Tam Plumber").wait_for()
    assert Notice.objects.get().acknowledged_by == "Tam Plumber"
