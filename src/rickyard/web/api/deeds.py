"""Deeds: what is done, by POST. Each body carries the client's key; the same key again does nothing new."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fastapi import APIRouter, Request
from pydantic import BaseModel

from rickyard.desk import (
    access,
    clashes,
    closing,
    costs,
    cutting,
    deliveries,
    forgetting,
    household_links,
    households,
    learning,
    load_measures,
    moving,
    naming,
    offers,
    orders,
    people,
    photo_measure,
    photos,
    readings,
    skies,
    split_stacks,
    splitting,
    stacking,
    tickets,
    undoing,
    undoing_measures,
    wares,
    witness,
    wood_in,
    yards,
)
from rickyard.desk.lists import taking
from rickyard.web.api import access as a
from rickyard.web.api import answer_models as made
from rickyard.web.api import gauging_models as g
from rickyard.web.api import list_models as li
from rickyard.web.api import offer_models as o
from rickyard.web.api import sheet_models as s
from rickyard.web.api import undoing_models as u
from rickyard.web.api import weather_models as w
from rickyard.web.api import wood_models as wood
from rickyard.web.api.bodies import body_model, command_of
from rickyard.web.api.common import ERRORS, TheDesk, by_whoever_is_signed_in

router = APIRouter(prefix="/api/deeds", tags=["deeds"], responses=ERRORS)

# path, command, what does it, what it answers
_DEEDS: tuple[tuple[str, type[Any], Callable[[Any, Any], dict[str, Any]], type[BaseModel]], ...] = (
    ("change-yard", yards.ChangeYard, yards.change_yard, made.YardChanged),
    ("take-in-rough", wood_in.TakeInRough, wood_in.take_in_rough, made.LoadTaken),
    ("take-in-list", taking.TakeInList, taking.take_in_list, li.ListTaken),
    ("take-in-logs", wood_in.TakeInLogs, wood_in.take_in_logs, made.LoadTaken),
    ("note-measure", load_measures.NoteMeasure, load_measures.note_measure, g.MeasureNoted),
    ("set-measure-aside", load_measures.SetMeasureAside, load_measures.set_measure_aside, g.MeasureSetAside),
    ("follow-measures", load_measures.FollowMeasures, load_measures.follow_measures, g.MeasuresFollowed),
    ("note-offer", offers.NoteOffer, offers.note_offer, o.OfferNoted),
    ("change-offer", offers.ChangeOffer, offers.change_offer, o.OfferNoted),
    ("take-offer", offers.TakeOffer, offers.take_offer, o.OfferTaken),
    ("refuse-offer", offers.RefuseOffer, offers.refuse_offer, o.OfferRefused),
    ("set-costs", costs.SetCosts, costs.set_costs, made.YardChanged),
    ("name-wood", naming.NameWood, naming.name_wood, made.WoodNamed),
    ("keep-seen", naming.KeepSeen, naming.keep_seen, made.SeenKept),
    ("confirm-naming", naming.ConfirmNaming, naming.confirm_naming, made.NamingConfirmed),
    ("make-cut-sheet", cutting.MakeCutSheet, cutting.make_cut_sheet, s.CutSheetMade),
    ("plan-cut-sheet", cutting.PlanCutSheet, cutting.plan_cut_sheet, s.CutSheetPlanned),
    ("tick-off", cutting.TickOff, cutting.tick_off, s.TickedOff),
    ("found-in-log", cutting.FoundInLog, cutting.found_in_log, s.FoundKept),
    (
        "make-splitting-sheet",
        splitting.MakeSplittingSheet,
        splitting.make_splitting_sheet,
        s.SplittingSheetMade,
    ),
    (
        "reckon-splitting-sheet",
        splitting.ReckonSplittingSheet,
        splitting.reckon_splitting_sheet,
        s.SplittingSheetReckoned,
    ),
    ("time-work", splitting.TimeWork, splitting.time_work, s.WorkTimed),
    ("stack-up", stacking.StackUp, stacking.stack_up, made.StackMade),
    ("opening-stack", stacking.OpeningStack, stacking.opening_stack, made.StackMade),
    ("measure-stack", stacking.MeasureStack, stacking.measure_stack, made.StackMeasured),
    (
        "measure-by-photo",
        photo_measure.MeasureByPhoto,
        photo_measure.measure_by_photo,
        g.StackMeasuredByPhoto,
    ),
    ("move-stack", stacking.MoveStack, stacking.move_stack, made.StackChanged),
    ("put-onto", moving.PutOnto, moving.put_onto, wood.WoodPut),
    ("divide-stack", moving.DivideStack, moving.divide_stack, wood.StackDivided),
    ("split-stack", split_stacks.SplitStack, split_stacks.split_stack, wood.StackSplit),
    ("reject-load", moving.RejectLoad, moving.reject_load, wood.LoadRejected),
    ("take-away", moving.TakeAway, moving.take_away, wood.WoodTaken),
    ("return-wood", moving.ReturnWood, moving.return_wood, wood.WoodReturned),
    ("empty-stack", closing.EmptyStack, closing.empty_stack, made.StackEmptied),
    ("add-reading", readings.AddReading, readings.add_reading, made.ReadingTaken),
    ("judge-reading", readings.JudgeReading, readings.judge_reading, made.ReadingJudged),
    ("mark-pieces", witness.MarkPieces, witness.mark_pieces, made.PiecesMarked),
    ("weigh-pieces", witness.WeighPieces, witness.weigh_pieces, made.ReadingTaken),
    ("forget-buyer", forgetting.ForgetBuyer, forgetting.forget_buyer, made.BuyerForgotten),
    ("forget-household", forgetting.ForgetHousehold, forgetting.forget_household, made.HouseholdForgotten),
    ("forget-lessons", learning.ForgetLessons, learning.forget_lessons, made.LessonsForgotten),
    ("forget-reason", forgetting.ForgetReason, forgetting.forget_reason, made.ReasonForgotten),
    ("reopen-stack", closing.ReopenStack, closing.reopen_stack, made.StackReopened),
    ("settle-clash", clashes.SettleClash, clashes.settle_clash, made.ClashSettled),
    ("add-photo", photos.AddPhoto, photos.add_photo, made.PhotoAdded),
    ("remove-photo", photos.RemovePhoto, photos.remove_photo, made.PhotoRemoved),
    ("add-person", people.AddPerson, people.add_person, made.PersonSet),
    ("rename-person", people.RenamePerson, people.rename_person, made.PersonSet),
    ("set-role", access.SetRole, access.set_role, a.RoleSet),
    ("lock-out", access.LockOut, access.lock_out, a.PasswordSet),
    ("end-sign-in", access.EndSignIn, access.end_sign_in, a.SignInEnded),
    ("end-link", household_links.EndLink, household_links.end_link, a.LinkEnded),
    ("set-ware", wares.SetWare, wares.set_ware, made.WareSet),
    ("set-household", households.SetHousehold, households.set_household, made.HouseholdSet),
    ("place-order", orders.PlaceOrder, orders.place_order, made.OrderPlaced),
    ("promise-order", orders.PromiseOrder, orders.promise_order, made.OrderPlaced),
    ("cancel-order", orders.CancelOrder, orders.cancel_order, made.OrderCancelled),
    ("deliver", deliveries.Deliver, deliveries.deliver, made.TicketMade),
    ("sell-at-gate", deliveries.SellAtGate, deliveries.sell_at_gate, made.TicketMade),
    ("pay", tickets.Pay, tickets.pay, u.Paid),
    ("undo-delivery", undoing.UndoDelivery, undoing.undo_delivery, u.DeliveryUndone),
    ("undo-payment", undoing.UndoPayment, undoing.undo_payment, u.PaymentUndone),
    ("undo-take-in", undoing.UndoTakeIn, undoing.undo_take_in, u.LoadUndone),
    ("undo-stack-up", undoing.UndoStackUp, undoing.undo_stack_up, u.StackUndone),
    ("undo-measure", undoing_measures.UndoMeasure, undoing_measures.undo_measure, u.MeasureUndone),
    ("undo-moving", undoing.UndoMoving, undoing.undo_moving, u.MovingUndone),
    ("take-in-weather", skies.TakeInWeather, skies.take_in_weather, w.WeatherTaken),
    ("take-back-weather", skies.TakeBackWeather, skies.take_back_weather, w.WeatherFileChanged),
    ("use-offsets", skies.UseOffsets, skies.use_offsets, w.WeatherFileChanged),
    ("turn-service", skies.TurnService, skies.turn_service, w.ServiceTurned),
    ("choose-place", skies.ChoosePlace, skies.choose_place, w.PlaceChosen),
)


def _add(
    path: str,
    command: type[Any],
    do: Callable[[Any, Any], dict[str, Any]],
    answer: type[BaseModel],
) -> None:
    def endpoint(request: Request, desk: TheDesk, body: Any) -> Any:
        done = do(desk, by_whoever_is_signed_in(request, command_of(command, body)))
        request.app.state.nudge()
        return done

    # FastAPI reads the body's model from the annotation, which is only known here.
    endpoint.__annotations__["body"] = body_model(command)
    endpoint.__name__ = path.replace("-", "_")
    endpoint.__doc__ = do.__doc__
    router.post(f"/{path}", response_model=answer)(endpoint)


for _deed in _DEEDS:
    _add(*_deed)
