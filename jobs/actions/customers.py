"""Customers: taken in once."""

from typing import Any
from uuid import UUID

from config.errors import DomainError
from config.tenancy import told
from jobs.models import Customer, Member


class CustomerAlreadyThere(DomainError):
    slug = "already-there"


def add_customer(*, by: Member, client_id: UUID | None = None, **fields: Any) -> Customer:
    """Take a customer in; raises CustomerAlreadyThere if its client id was used before."""
    sent_before = CustomerAlreadyThere(
        "A customer was sent under this id before.", pointer="#/client_id"
    )
    with told({"customer_once_per_client_id": sent_before}):
        return Customer.objects.create(
            contractor_id=by.contractor_id, client_id=client_id, **fields
        )
