"""How tests of pages sign in, address a page of one stay, and read what came back."""

from typing import Any

from django.test import Client
from django.urls import reverse

from inventory.models import Consignment, User
from inventory.rules.roles import Actor


def sign_in(client: Client, actor: Actor) -> Client:
    client.force_login(User.objects.get(pk=actor.id))
    return client


def url(stay: Consignment, name: str, **more: Any) -> str:
    return reverse(name, kwargs={"stock_number": stay.stock_number, **more})


def text_of(response: Any) -> str:
    """The page with every run of white space as one space."""
    return " ".join(response.content.decode().split())
