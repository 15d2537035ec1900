"""Webhooks: told to a real server on loopback, signed, tried again, logged, sent again by hand."""

import base64
import hashlib
import hmac
import json
from datetime import timedelta

import pytest
from django.core import mail
from django.db import IntegrityError, transaction

from config.tenancy import violated
from jobs import webhook as rules
from jobs.actions import webhooks
from jobs.models import Delivery, DeliveryAttempt, Webhook
from tests.factories import DeliveryFactory, WebhookFactory
from tests.receiver import receiving, status

URL = "/api/v1/webhooks/"
MINUTE = timedelta(minutes=1)


@pytest.fixture
def receiver(settings):
    settings.WEBHOOKS_TO_PRIVATE = True
    with receiving() as server:
        yield server


@pytest.fixture
def hook(api, olive, receiver):
    body = {"url": receiver.url, "events": ["check.recorded", "date.moved"]}
    made = api(olive).post(URL, body)
    assert made.status_code == 201, made.content
    return made.json()


def announced(olive, now, event="check.recorded", **data):
    webhooks.announce(olive.contractor_id, [(event, data)], at=now)
    return Delivery.objects.order_by("-pk").first()


def verified(got, secret):
    """Check a signature as a receiver does, with nothing of ours."""
    key = base64.b64decode(secret.split("_")[1])
    signed = f"{got.headers['webhook-id']}.{got.headers['webhook-timestamp']}.{got.body}"
    made = base64.b64encode(hmac.new(key, signed.encode(), hashlib.sha256).digest()).decode()
    return f"v1,{made}" in got.headers["webhook-signature"].split()


def test_an_event_is_sent_signed_and_logged(api, olive, hook, receiver, now):
    row = announced(olive, now, check="a", words="Größe")
    assert webhooks.deliver(delivery_id=row.pk, at=now)
    (got,) = receiver.got
    assert json.loads(got.body) == {
        "type": "check.recorded",
        "timestamp": "2027-03-10T07:00:00Z",
        "data": {"check": "a", "words": "Größe"},
    }
    assert verified(got, hook["secret"])
    assert got.headers["webhook-id"] == str(row.pk)
    logged = api(olive).get(f"/api/v1/deliveries/{row.pk}/").json()
    assert (logged["outcome"], logged["body"]) == ("delivered", got.body)
    assert [each["status"] for each in logged["tries"]] == [204]


def test_a_signature_over_something_else_does_not_fit(olive, hook, receiver, now):
    webhooks.deliver(delivery_id=announced(olive, now, a=1).pk, at=now)
    (got,) = receiver.got
    got.body = got.body.replace("1}", "2}")
    assert not verified(got, hook["secret"])


def test_the_signature_of_a_known_message():
    """Standard Webhooks' own example, from memory; worked out by hand with openssl as well."""
    made = rules.signature(
        '{"test": 2432232314}',
        message_id="msg_p5jXN8AQM9LWM0D4loKWxJek",
        stamp="1614265330",
        secret="whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",
    )
    assert made == "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_only_what_was_asked_for_is_sent(olive, hook, now):
    assert announced(olive, now, "certificate.issued") is None
    assert announced(olive, now, "date.moved").event == "date.moved"


def test_nobody_elses_events_are_sent(bo, hook, now):
    assert announced(bo, now) is None


def test_what_is_rolled_back_was_never_announced(olive, hook, now):
    with transaction.atomic():
        announced(olive, now)
        transaction.set_rollback(True)
    assert not Delivery.objects.exists()


def test_a_receiver_that_is_down_is_tried_again_later_and_later(olive, hook, receiver, now):
    receiver.answer = status(500, b"<b>sorry</b>")
    row = announced(olive, now)
    waits = []
    for attempts in range(1, 5):
        assert not webhooks.deliver(delivery_id=row.pk, at=now)
        row.refresh_from_db()
        assert row.attempts == attempts
        waits.append((row.send_after - now) // MINUTE)
        assert not Delivery.objects.due(row.send_after - MINUTE / 60).exists()
        now = row.send_after
    assert waits == [1, 2, 4, 8]
    receiver.answer = None
    assert webhooks.deliver(delivery_id=row.pk, at=now)
    assert {got.headers["webhook-id"] for got in receiver.got} == {str(row.pk)}
    assert DeliveryAttempt.objects.filter(delivery=row, answer="<b>sorry</b>").count() == 4


def test_a_receiver_that_does_not_answer_is_left_in_peace(olive, hook, receiver, now):
    """Its other deliveries wait too, else each would hold a worker for ten seconds."""
    Webhook.objects.update(url="http://127.0.0.1:9/")
    first, second = announced(olive, now), announced(olive, now)
    assert not webhooks.deliver(delivery_id=first.pk, at=now)
    assert not webhooks.deliver(delivery_id=second.pk, at=now)
    assert DeliveryAttempt.objects.count() == 1
    assert "refused" in DeliveryAttempt.objects.get().error
    assert Delivery.objects.due(now + MINUTE).count() == 2


def test_a_refusal_of_one_event_does_not_hold_the_others(olive, hook, receiver, now):
    receiver.answer = status(422)
    webhooks.deliver(delivery_id=announced(olive, now).pk, at=now)
    receiver.answer = None
    assert webhooks.deliver(delivery_id=announced(olive, now).pk, at=now)


def test_what_is_never_taken_is_given_up(olive, hook, receiver, now):
    receiver.answer = status(404)
    row = announced(olive, now)
    Delivery.objects.update(attempts=rules.MOST_ATTEMPTS - 1)
    webhooks.deliver(delivery_id=row.pk, at=now)
    row.refresh_from_db()
    assert (row.outcome, row.settled_at) == ("given-up", now)


def test_a_worker_that_died_leaves_the_delivery_to_the_next(olive, hook, now):
    row = announced(olive, now)
    assert Delivery.objects.claim(row.pk, at=now)
    assert not Delivery.objects.claim(row.pk, at=now + MINUTE)
    assert Delivery.objects.claim(row.pk, at=now + MINUTE + timedelta(seconds=1))


def test_after_days_of_failure_it_is_given_up_and_the_office_told_once(
    olive, finn, hook, receiver, now
):
    receiver.answer = status(503)
    webhooks.deliver(delivery_id=announced(olive, now).pk, at=now)
    assert webhooks.tell_office(at=now) == 0
    later = now + rules.DISABLE_AFTER
    webhooks.deliver(delivery_id=announced(olive, later).pk, at=later)
    row = Webhook.objects.get()
    assert row.disabled_at == later
    assert announced(olive, later + MINUTE).made_at == later  # nothing new is written down
    assert [webhooks.tell_office(at=later) for _ in range(2)] == [1, 0]
    (sent,) = mail.outbox
    assert sent.to == ["olive@alder.example"]
    assert receiver.url in sent.body
    assert f"http://testserver/webhooks/{row.pk}/" in sent.body


def test_a_mail_server_that_is_down_does_not_lose_the_word(olive, hook, now, settings):
    Webhook.objects.update(disabled_at=now)
    backend = settings.EMAIL_BACKEND
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 9
    assert webhooks.tell_office(at=now) == 0
    settings.EMAIL_BACKEND = backend
    assert webhooks.tell_office(at=now) == 1


def test_switched_on_again_it_is_sent_what_it_missed(api, olive, hook, receiver, now):
    row = announced(olive, now)
    Webhook.objects.update(disabled_at=now, failing_since=now, told_at=now)
    assert not webhooks.deliver(delivery_id=row.pk, at=now)
    shown = api(olive).post(f"{URL}{hook['id']}/on/").json()
    assert (shown["disabled_at"], shown["failing_since"]) == (None, None)
    row.refresh_from_db()
    assert webhooks.deliver(delivery_id=row.pk, at=row.send_after)


def test_success_forgets_the_failures(olive, hook, receiver, now):
    receiver.answer = status(503)
    row = announced(olive, now)
    webhooks.deliver(delivery_id=row.pk, at=now)
    receiver.answer = None
    webhooks.deliver(delivery_id=row.pk, at=now + MINUTE)
    found = Webhook.objects.get()
    assert (found.failing_since, found.failures, found.quiet_until) == (None, 0, None)


def test_a_delivery_is_sent_again_under_its_id(api, olive, hook, receiver, now, real_now):
    row = announced(olive, now)
    webhooks.deliver(delivery_id=row.pk, at=now)
    again = api(olive).post(f"/api/v1/deliveries/{row.pk}/replay/")
    assert (again.status_code, again.json()["outcome"]) == (202, "")
    assert webhooks.deliver(delivery_id=row.pk, at=real_now + MINUTE)
    first, second = receiver.got
    assert first.headers["webhook-id"] == second.headers["webhook-id"]
    assert first.body == second.body


def test_everything_since_a_time_is_sent_again(api, olive, hook, now):
    for hours in range(3):
        announced(olive, now + timedelta(hours=hours))
    Delivery.objects.update(settled_at=now, outcome="delivered")
    body = {"since": (now + timedelta(minutes=30)).isoformat()}
    assert api(olive).post(f"{URL}{hook['id']}/replay/", body).json() == {"count": 2}
    assert Delivery.objects.filter(outcome="").count() == 2


def test_a_new_secret_and_the_old_one_sign_for_a_day(api, olive, hook, receiver, now):
    changed = api(olive).post(f"{URL}{hook['id']}/secret/", headers={"If-Match": '"1"'})
    assert changed.status_code == 201
    new = changed.json()["secret"]
    assert new != hook["secret"]
    Webhook.objects.update(rotated_at=now)
    webhooks.deliver(delivery_id=announced(olive, now).pk, at=now)
    webhooks.deliver(delivery_id=announced(olive, now).pk, at=now + rules.BOTH_SECRETS)
    first, second = receiver.got
    assert [verified(got, new) for got in (first, second)] == [True, True]
    assert [verified(got, hook["secret"]) for got in (first, second)] == [True, False]


def test_the_secret_is_shown_once_and_kept_nowhere(api, olive, hook):
    assert hook["secret"].startswith("whsec_")
    assert len(base64.b64decode(hook["secret"][6:])) == 32
    assert "secret" not in api(olive).get(f"{URL}{hook['id']}/").json()
    assert hook["secret"] not in repr(Webhook.objects.values().get())


def test_a_trial_is_sent(api, olive, hook, receiver, real_now):
    made = api(olive).post(f"{URL}{hook['id']}/trial/")
    assert made.status_code == 202
    webhooks.deliver(delivery_id=made.json()["id"], at=real_now + MINUTE)
    assert json.loads(receiver.got[0].body)["type"] == "webhook.tried"


def test_nothing_is_sent_to_one_that_is_off(api, olive, hook, problem, now):
    Webhook.objects.update(disabled_at=now)
    refused = api(olive).post(f"{URL}{hook['id']}/trial/")
    assert (refused.status_code, problem(refused)["type"]) == (409, "/problems/webhook-off/")


def test_a_removed_one_is_told_nothing_and_its_address_is_free(api, olive, hook, now):
    client = api(olive)
    gone = client.delete(f"{URL}{hook['id']}/", headers={"If-Match": '"1"'})
    assert gone.json()["removed_at"]
    assert announced(olive, now) is None
    assert client.post(f"{URL}{hook['id']}/trial/").status_code == 404
    again = client.post(URL, {"url": hook["url"], "events": ["date.moved"]})
    assert again.status_code == 201


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"url": "http://receiver.example/"}, "#/url"),
        ({"url": "https://10.1.2.3/"}, "#/url"),
        ({"events": []}, "#/events"),
        ({"events": ["everything"]}, "#/events/0"),
        ({"secret": "mine"}, "#/secret"),
    ],
)
def test_what_is_no_webhook_is_refused(api, olive, problem, body, pointer):
    whole = {"url": "https://receiver.example/", "events": ["date.moved"], **body}
    refused = api(olive).post(URL, whole)
    assert refused.status_code == 422
    assert problem(refused)["errors"][0]["pointer"] == pointer
    moved = WebhookFactory(contractor=olive.contractor)
    refused = api(olive).patch(f"{URL}{moved.pk}/", body, headers={"If-Match": '"1"'})
    assert problem(refused)["errors"][0]["pointer"] == pointer


def test_an_address_is_told_once(api, olive, hook, problem):
    refused = api(olive).post(URL, {"url": hook["url"], "events": ["date.moved"]})
    assert (refused.status_code, problem(refused)["type"]) == (409, "/problems/already-there/")


def test_an_address_that_came_to_mean_this_house_is_not_sent_to(olive, now, settings):
    """It was taken when its name meant something else; what counts is where it leads now."""
    settings.WEBHOOKS_TO_PRIVATE = False
    hook = WebhookFactory(contractor=olive.contractor, url="https://localhost:9/")
    row = announced(olive, now)
    assert row.webhook == hook
    assert not webhooks.deliver(delivery_id=row.pk, at=now)
    assert "not an address of the public internet" in DeliveryAttempt.objects.get().error


def test_the_log_is_listed_and_filtered(api, olive, hook, now):
    done, waits = announced(olive, now), announced(olive, now)
    Delivery.objects.filter(pk=done.pk).update(settled_at=now, outcome="delivered")
    client = api(olive)
    listed = client.get("/api/v1/deliveries/", {"webhook": hook["id"]}).json()["results"]
    assert [each["id"] for each in listed] == [str(waits.pk), str(done.pk)]
    listed = client.get("/api/v1/deliveries/", {"outcome": "delivered"}).json()["results"]
    assert [each["id"] for each in listed] == [str(done.pk)]


def test_the_log_is_kept_for_a_while(olive, hook, now):
    row, waits = announced(olive, now), announced(olive, now)
    webhooks.deliver(delivery_id=row.pk, at=now)
    assert webhooks.forget_old(at=now + rules.LOG_LASTS) == 0
    assert webhooks.forget_old(at=now + rules.LOG_LASTS + MINUTE) == 1
    assert list(Delivery.objects.all()) == [waits]
    assert not DeliveryAttempt.objects.exists()


def test_a_delivery_is_settled_with_its_outcome(db, now):
    row = DeliveryFactory()
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        Delivery.objects.filter(pk=row.pk).update(outcome="delivered")
    assert violated(refused.value) == "delivery_settled_with_outcome"


def test_many_webhooks_take_as_many_queries_as_one(olive, now, django_assert_max_num_queries):
    for _ in range(10):
        WebhookFactory(contractor=olive.contractor)
    with django_assert_max_num_queries(2):
        announced_events = [("check.recorded", {"n": n}) for n in range(10)]
        webhooks.announce(olive.contractor_id, announced_events, at=now)
    assert Delivery.objects.count() == 100
