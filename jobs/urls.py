"""Addresses of pages about people, places and things."""

from django.urls import path

from jobs.pages import (
    account,
    catalogue,
    customers,
    installing,
    jobs,
    people,
    rooms,
    search,
    webhooks,
)

urlpatterns = [
    path("login/", account.Login.as_view(), name="login"),
    path("logout/", account.Logout.as_view(), name="logout"),
    path("settings/", account.own_settings, name="own-settings"),
    path("settings/password/", account.ChangePassword.as_view(), name="password-change"),
    path("password/", account.ResetPassword.as_view(), name="password-reset"),
    path("password/sent/", account.ResetSent.as_view(), name="password-reset-sent"),
    path("password/<uidb64>/<token>/", account.SetPassword.as_view(), name="password-set"),
    path("people/", people.people, name="people"),
    path("customers/", customers.customer_list, name="customers"),
    path("customers/new/", customers.customer_add, name="customer-add"),
    path("customers/<uuid:customer_id>/", customers.customer_page, name="customer"),
    path("customers/<uuid:customer_id>/change/", customers.customer_edit, name="customer-edit"),
    path("catalogue/", catalogue.catalogue, name="catalogue"),
    path("catalogue/<uuid:material_id>/", catalogue.material, name="material"),
    path("jobs/new/", jobs.job_add, name="job-add"),
    path("jobs/<uuid:job_id>/change/", jobs.job_edit, name="job-edit"),
    path("jobs/<uuid:job_id>/rooms/new/", rooms.room_add, name="room-add"),
    path("rooms/<uuid:room_id>/change/", rooms.room_edit, name="room-edit"),
    path("rooms/<uuid:room_id>/install/<slug:kind>/", installing.install_page, name="install"),
    path("search/", search.search, name="search"),
    path("webhooks/", webhooks.webhook_list, name="webhooks"),
    path("webhooks/<uuid:webhook_id>/", webhooks.webhook_page, name="webhook"),
    path("deliveries/<uuid:delivery_id>/", webhooks.delivery_page, name="delivery"),
]
