"""What trades and owners see: on a phone, without script, in both languages."""

from datetime import timedelta

from django.urls import reverse

from jobs.actions.links import OWNER_LINK_LASTS, make_link
from jobs.models import Job
from scheduling.actions.notices import link_to, review_visit
from scheduling.actions.trades import link_to as trade_link
from scheduling.models import Notice
from tests.factories import VisitingTradeFactory
from tests.pages.world import build

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "java_script_enabled": False}


def addresses(olive, world, now):
    world.visit.notices.all().delete()
    review_visit(visit=world.visit, at=now)
    notice = link_to(Notice.objects.get(), at=now)
    _, secret = make_link(job=world.job, purpose="owner", at=now, lasts=OWNER_LINK_LASTS)
    return notice[notice.index("/notice/") :], reverse("owner", args=[secret])


def test_a_trade_tells_its_times_by_touch_without_script(context_of, olive, finn, real_now):
    world = build(olive, finn, real_now)
    own = VisitingTradeFactory(contractor=olive.contractor, job=world.job)
    page = context_of(**PHONE).new_page()
    page.goto(trade_link(own, at=real_now).partition("testserver")[2])
    day = (real_now + timedelta(days=4)).date()
    page.get_by_label("One visit a line").fill(f"{day} 8-16 plumber")
    page.get_by_role("button", name="Look at it first").tap()
    page.get_by_role("button", name="Note this change").tap()
    page.get_by_role("button", name="Call off").wait_for()
    assert own.visits.get().company == own.company


def test_pages_behind_links_can_be_read(context_of, looker, olive, finn, real_now):
    notice, owner = addresses(olive, build(olive, finn, real_now), real_now)
    look = looker(context_of().new_page())
    own = VisitingTradeFactory(contractor=olive.contractor, job=Job.objects.first())
    look.look(trade_link(own, at=real_now).partition("testserver")[2], "trade-times")
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
    notice, _owner = addresses(olive, build(olive, finn, real_now), real_now)
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
