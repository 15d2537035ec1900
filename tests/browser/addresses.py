"""The pages that browsers look at, by name: of the office, of one room, of the phone."""

from django.urls import reverse

from readings.models import Check
from tests.factories import DeliveryFactory, FaultFoundFactory

ROOM_PAGES = ("survey", "circuit", "heat", "order", "fasten", "fault", "sheet", "plans", "photos")


def office_pages(world, finn):
    delivery = DeliveryFactory(contractor=finn.contractor)
    material = world.bathroom.elements.get().material_id
    return {
        "needs": reverse("home"),
        "board": reverse("jobs"),
        "job": reverse("job", args=[world.job.pk]),
        "lanes": reverse("job-lanes", args=[world.job.pk]),
        "room": reverse("room", args=[world.bathroom.pk]),
        "curing": reverse("room-curing", args=[world.kitchen.pk]),
        "room-form": reverse("room-edit", args=[world.bathroom.pk]),
        "readings": reverse("checks", args=[world.bathroom.pk]),
        "plan": reverse("plan"),
        "booking": reverse("booking", args=[world.bathroom.bookings.order_by("day")[0].pk]),
        "customers": reverse("customers"),
        "customer": reverse("customer", args=[world.job.customer_id]),
        "job-form": reverse("job-add") + f"?customer={world.job.customer_id}",
        "catalogue": reverse("catalogue"),
        "material": reverse("material", args=[material]),
        "people": reverse("people"),
        "search": reverse("search") + "?q=Mill",
        "settings": reverse("own-settings"),
        "devices": reverse("devices"),
        "invite": reverse("invite"),
        "member": reverse("member-edit", args=[finn.pk]),
        "company": reverse("company"),
        "sheet": reverse("material-add", args=["mortar"]),
        "generic": reverse("generic-add"),
        "meters": reverse("meters"),
        "meter": reverse("meter", args=[world.meter.instrument_id]),
        "crews": reverse("crews"),
        "crew-form": reverse("crew-add"),
        "job-lists": reverse("job-lists"),
        "visits-import": reverse("visits-import", args=[world.job.pk]),
        "trade-form": reverse("trade-add", args=[world.job.pk]),
        "feeds": reverse("feeds"),
        "webhooks": reverse("webhooks"),
        "webhook": reverse("webhook", args=[delivery.webhook_id]),
        "delivery": reverse("delivery", args=[delivery.pk]),
    }


def room_pages(world):
    names = (*ROOM_PAGES, "as-laid")
    element = world.bathroom.elements.get()
    fault = FaultFoundFactory(contractor=element.contractor, element=element)
    return {
        **{name: reverse(f"room-{name}", args=[world.bathroom.pk]) for name in names},
        "fault-found": reverse("fault-found", args=[fault.pk]),
    }


def field_pages(world):
    check = Check.objects.filter(room=world.bathroom).latest("sequence")
    return {
        "today": reverse("today"),
        "field-room": reverse("field-room", args=[world.bathroom.pk]),
        "before": reverse("measure", args=[world.bathroom.pk, "laid"]),
        "step": reverse("measure-step", args=[world.bathroom.pk, "laid", 1]),
        "verdict": reverse("verdict", args=[check.pk]),
        "thermometer": reverse("thermometer", args=[world.kitchen.pk]),
        "place": reverse("place-layer", args=[world.bathroom.pk]),
        "outbox": reverse("outbox"),
        "offline": reverse("offline"),
    }
