"""The sale desk: offers, deposit, sale, the buyer's money, and what leaves the lot."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from inventory.actions import (
    charging,
    conceding,
    extras,
    inquiring,
    offering,
    paying,
    releasing,
    selling,
    trading_in,
)
from inventory.actions.intake import Arrival
from inventory.actions.paying import Payment
from inventory.actions.selling import Bargain, ConsentGiven
from inventory.forms import sale_desk as forms
from inventory.forms.releases import BuyerForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.pages.shown import tell_shown
from inventory.queries import sale_desk as queries
from inventory.queries.deal_papers import deal_papers, reminders_of
from inventory.queries.flags import drives_stopped
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act, Actor


def _log_inquiry(form: Any, stay_id: int, **who: Any) -> object:
    return inquiring.log_inquiry(stay_id, **form.cleaned_data, **who)


def _log_showing(form: Any, stay_id: int, **who: Any) -> object:
    said = dict(form.cleaned_data)
    return inquiring.log_showing(stay_id, inquiry_id=said.pop("inquiry"), **said, **who)


def _log_offer(form: Any, stay_id: int, **who: Any) -> object:
    return offering.log_offer(stay_id, **form.cleaned_data, **who)


def _answer(form: Any, stay_id: int, **who: Any) -> object:
    said = form.cleaned_data
    return offering.answer_offer(said["offer"], answer=said["answer"], amount=said["amount"], note=said["note"], **who)


def _take_deposit(form: forms.DepositForm, stay_id: int, **who: Any) -> object:
    said = form.cleaned_data
    return selling.take_deposit(
        stay_id,
        bargain=Bargain(**form.bargain()),
        deposit=Payment(amount=said["deposit"], method=said["method"], client_key=said["client_key"]),
        hold_until=said["hold_until"],
        refundable=said["refundable"] != "no",
        consent=_consent(form),
        version=said["version"],
        **who,
    )


def _mark_sold(form: forms.SoldForm, stay_id: int, **who: Any) -> object:
    said = form.cleaned_data
    return selling.mark_sold(
        stay_id,
        bargain=Bargain(**form.bargain()),
        sold_on=said["sold_on"],
        channel=said["channel"],
        arms_length=not said["not_arms_length"],
        consent=_consent(form),
        version=said["version"],
        **who,
    )


def _consent(form: forms.BargainForm) -> ConsentGiven | None:
    given = form.consent()
    return None if given is None else ConsentGiven(**given)


def _end_deal(form: Any, stay_id: int, **who: Any) -> object:
    return selling.end_deal(stay_id, **form.cleaned_data, **who)


def _record_payment(form: Any, stay_id: int, **who: Any) -> object:
    return paying.record_payment(stay_id, payment=Payment(**form.cleaned_data), **who)


def _settle_payment(form: Any, stay_id: int, **who: Any) -> object:
    said = form.cleaned_data
    return paying.settle_payment(said["payment"], event=said["event"], amount=said["amount"], on=said["on"], **who)


def _add_extra(form: Any, stay_id: int, **who: Any) -> object:
    return extras.add_extra(stay_id, **form.cleaned_data, **who)


def _extra_aside(form: Any, stay_id: int, **who: Any) -> object:
    return extras.set_extra_aside(form.cleaned_data["extra"], **who)


def _concede(form: Any, stay_id: int, **who: Any) -> object:
    return conceding.concede(stay_id, **form.cleaned_data, **who)


def _log_trade(form: Any, stay_id: int, **who: Any) -> object:
    return trading_in.log_trade(stay_id, vehicle=Arrival(**form.cleaned_data), **who)


def _withdraw(form: Any, stay_id: int, **who: Any) -> object:
    return selling.withdraw(stay_id, **form.cleaned_data, **who)


def _charges_paid(form: Any, stay_id: int, **who: Any) -> object:
    return charging.record_consignor_payment(stay_id, **form.cleaned_data, **who)


def _send_title(form: Any, stay_id: int, **who: Any) -> object:
    return releasing.send_title(stay_id, **form.cleaned_data, **who)


def _unwind(form: Any, stay_id: int, **who: Any) -> object:
    return selling.unwind_sale(stay_id, **form.cleaned_data, **who)


@dataclass(frozen=True)
class Deed:
    """One thing that can be done on the desk: its form, its action, and the words around it."""

    form: type[forms.DeskForm]
    act: Callable[..., object]
    title: str
    button: str
    told: str
    caution: str = ""
    is_grave: bool = False


LOCAL_LAW = "Title, tax and consignor-payment rules differ by place: check local law."
DEEDS: dict[str, Deed] = {
    "inquiry": Deed(forms.InquiryForm, _log_inquiry, "Log an inquiry", "Log the inquiry", "The inquiry is logged."),
    "showing": Deed(forms.ShowingForm, _log_showing, "Log a showing", "Log the showing", "The showing is logged."),
    "offer": Deed(forms.OfferForm, _log_offer, "Log an offer", "Log the offer", "The offer is logged."),
    "answer": Deed(forms.AnswerForm, _answer, "Answer an offer", "Record the answer", "The answer is recorded."),
    "deposit": Deed(
        forms.DepositForm, _take_deposit, "Take a deposit", "Take the deposit", "The deposit is recorded: it is held.",
        "The vehicle is held until the day you give. Back-up offers are still taken.",
    ),
    "sold": Deed(forms.SoldForm, _mark_sold, "Mark it sold", "Mark it sold", "It is marked sold.", LOCAL_LAW),
    "payment": Deed(
        forms.PaymentForm, _record_payment, "Record a payment of the buyer", "Record the payment",
        "The payment is recorded. It counts once it has cleared.",
    ),
    "payment-fate": Deed(
        forms.PaymentFateForm, _settle_payment, "A payment cleared, bounced or was returned", "Record it",
        "The payment's fate is recorded.",
        "Say that money has cleared only when your bank says so: a cheque can bounce after it shows in the account.",
    ),
    "extra": Deed(
        forms.ExtraForm, _add_extra, "Tax or fee of the buyer", "Add it", "It is added to what the buyer pays.",
        "Apart from the price: it never stands on the consignor's statement.",
    ),
    "extra-aside": Deed(
        forms.ExtraAsideForm, _extra_aside, "Set a tax or fee aside", "Set it aside", "It is set aside.",
    ),
    "concession": Deed(
        forms.ConcedeForm, _concede, "Money off after the sale", "Give it", "The buyer owes that much less.",
        "The lot bears it. What the consignor shall bear they are asked for first, on the consignor's page.",
    ),
    "trade": Deed(
        forms.TradeForm, _log_trade, "Log the vehicle taken in trade", "Log it",
        "It is logged as the lot's own. The consignor is still owed in money.",
    ),
    "title-sent": Deed(
        forms.TitleSentForm, _send_title, "Title sent to the buyer", "Title is sent", "The title is recorded as sent.",
        f"After this the sale cannot be unwound. {LOCAL_LAW}",
    ),
    "charges-paid": Deed(
        forms.ChargesPaidForm, _charges_paid, "The consignor paid what they owe", "Record the payment",
        "The consignor's payment is recorded.",
    ),
    "fall-through": Deed(
        forms.FallThroughForm, _end_deal, "The deal fell through", "End the deal",
        "The deal is ended: the vehicle is for sale again.", is_grave=True,
    ),
    "unwind": Deed(
        forms.UnwindForm, _unwind, "Unwind the sale", "Unwind the sale", "The sale is set aside: it is for sale again.",
        "Only before title or vehicle has left. Return the buyer's money and record it here.", is_grave=True,
    ),
    "withdraw": Deed(
        forms.WithdrawForm, _withdraw, "Withdraw the vehicle", "Withdraw it", "The vehicle is withdrawn.",
        "The consignor takes it back. A deposit that is held goes back to the buyer. This cannot be undone.",
        is_grave=True,
    ),
}  # fmt: skip
TELLS_SHOWN = ("deposit", "sold", "fall-through", "unwind", "withdraw")  # after them places may show what is not so
OF_INTEREST = ("inquiry", "showing")  # their forms stand beside what they count


@require_GET
@staff_page(Act.LOG_OFFER)
def sale_desk(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _show(request, stock_number)


@require_POST
@staff_page(Act.LOG_OFFER, deeds={slug: queries.DEEDS_OPEN[slug][0] for slug in DEEDS})
def deed(request: StaffRequest, stock_number: str, deed: str) -> HttpResponse:
    chosen = DEEDS.get(deed)
    if chosen is None:
        raise Http404("There is no such deed.")
    stay = stay_by_number(stock_number)
    form = chosen.form(request.POST, desk=queries.desk(stay, today=timezone.localdate()))
    if form.is_valid() and attempt(form, lambda: _do(chosen, form, stay_id=stay.pk, by=request.actor)) is not None:
        messages.success(request, chosen.told)
        if deed in TELLS_SHOWN:
            tell_shown(request, stay)
        return redirect("sale_desk", stock_number=stock_number)
    return _show(request, stock_number, failed=form)


def _do(chosen: Deed, form: forms.DeskForm, *, stay_id: int, by: Actor) -> object:
    at: datetime = timezone.now()
    return chosen.act(form, stay_id, by=by, at=at)


def _show(request: StaffRequest, stock_number: str, *, failed: forms.DeskForm | None = None) -> HttpResponse:
    today = timezone.localdate()
    desk = queries.desk(stay_by_number(stock_number), today=today)
    failed_slug = failed.slug if failed else ""
    offered = queries.open_deeds(desk, by=request.actor)
    shown = [
        (slug, deed, failed if failed and slug == failed_slug else deed.form(desk=desk))
        for slug, deed in DEEDS.items()
        if slug in offered or slug == failed_slug
    ]
    context = {
        "desk": desk,
        "stay": desk.stay,
        "here": "sale",
        "failed": failed_slug,
        "stopped_by": drives_stopped(desk.stay, today=today),
        "may_release": "release" in offered,
        "papers": deal_papers(desk.stay, deal=desk.deal),
        "buyer_form": BuyerForm(deal=desk.deal, version=desk.stay.version) if desk.deal else None,
        "reminders": reminders_of(desk.stay, deal=desk.deal, today=today),
        "deeds": [entry for entry in shown if entry[0] not in OF_INTEREST],
        "interest_deeds": [entry for entry in shown if entry[0] in OF_INTEREST],
    }
    return render(request, "inventory/sale_desk/page.html", context, status=422 if failed else 200)
