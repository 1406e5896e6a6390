"""Factories for rows; the cast of people is in tests/cast.py."""

from datetime import UTC, date, datetime
from typing import Any

import factory
from factory.django import DjangoModelFactory

from fleet.accounts.models import Company, Membership, Role, User
from fleet.core.typed import Typed
from fleet.drums.models import BrakeEvent, Drum, DrumParticulars, EventKind, RetestOrder, Winch
from fleet.gauges.models import Footing, Gauge, GaugeCalibration, Jack, Kit, KitJack, Lever
from fleet.records.models import DrumTest, Phase, Reading, Round
from fleet.review.models import DrumFlag
from fleet.vessels.imo import check_digit
from fleet.vessels.models import Policy, Vessel, VesselAccess


def imo_number(n: int) -> str:
    """A plainly invented number (it begins with zeros) with its right check digit."""
    first_six = f"{n:06}"
    return first_six + str(check_digit(first_six))


def figure(text: str, unit: str, origin: str = "drawing", document: str = "drawing W-1") -> dict[str, Any]:
    return {**Typed.read(text, unit).to_dict(), "origin": origin, "document": document}


class UserFactory(DjangoModelFactory[User]):
    class Meta:
        model = User
        skip_postgeneration_save = True

    email = factory.Sequence(lambda n: f"person{n}@ship.example")
    name = factory.Sequence(lambda n: f"Person {n}")
    rank = "chief officer"
    password = factory.django.Password("a-long-password-1")


class CompanyFactory(DjangoModelFactory[Company]):
    class Meta:
        model = Company

    name = factory.Sequence(lambda n: f"Company {n}")
    short_code = factory.Sequence(lambda n: f"C{n}")


class MembershipFactory(DjangoModelFactory[Membership]):
    class Meta:
        model = Membership

    user = factory.SubFactory(UserFactory)
    company = factory.SubFactory(CompanyFactory)
    role = Role.OFFICER


class VesselFactory(DjangoModelFactory[Vessel]):
    class Meta:
        model = Vessel

    company = factory.SubFactory(CompanyFactory)
    name = factory.Sequence(lambda n: f"Vessel {n}")
    imo_number = factory.Sequence(imo_number)
    base_load = factory.LazyFunction(lambda: Typed.read("637", "kN"))
    base_load_document = "towing and mooring arrangements plan, sheet 2"


class VesselAccessFactory(DjangoModelFactory[VesselAccess]):
    class Meta:
        model = VesselAccess

    membership = factory.SubFactory(MembershipFactory)
    vessel = factory.SubFactory(VesselFactory)


class PolicyFactory(DjangoModelFactory[Policy]):
    class Meta:
        model = Policy

    company = factory.SubFactory(CompanyFactory)
    valid_from = date(2020, 1, 1)
    reason = "first policy"


class WinchFactory(DjangoModelFactory[Winch]):
    class Meta:
        model = Winch

    vessel = factory.SubFactory(VesselFactory)
    name = factory.Sequence(lambda n: f"Winch {n}")


class DrumFactory(DjangoModelFactory[Drum]):
    class Meta:
        model = Drum

    winch = factory.SubFactory(WinchFactory)
    name = factory.Sequence(lambda n: f"Drum {n}")
    area = "forecastle"
    side = "port"
    order = factory.Sequence(lambda n: n % 16 + 1)
    kind = "split"
    mark_from = "machined edge of the stop plate"
    mark_to = "end face of the spindle nut"


class DrumParticularsFactory(DjangoModelFactory[DrumParticulars]):
    """The constructed case C4: 637 kN, 610 mm drum, 36 mm line."""

    class Meta:
        model = DrumParticulars

    drum = factory.SubFactory(DrumFactory)
    valid_from = date(2020, 1, 1)
    line_material = "wire"
    reason = "first entry"
    author = factory.SubFactory(UserFactory)
    figures = factory.LazyFunction(
        lambda: {
            "drum_diameter": figure("610", "mm"),
            "line_diameter": figure("36", "mm", "certificate", "line certificate"),
            "flange_diameter": figure("1100", "mm"),
            "line_mbl": figure("660", "kN", "certificate", "line certificate"),
            "lining_new": figure("12", "mm", "maker", "manual"),
            "lining_minimum": figure("7", "mm", "maker", "manual"),
            "movement_per_turn": figure("6", "mm", "measured", ""),
            "mark_least": figure("10", "mm", "maker", "manual"),
            "mark_most": figure("120", "mm", "maker", "manual"),
        }
    )


class BrakeEventFactory(DjangoModelFactory[BrakeEvent]):
    class Meta:
        model = BrakeEvent

    drum = factory.SubFactory(DrumFactory)
    happened_on = date(2026, 3, 1)
    kind = EventKind.LINING_RENEWED
    author = factory.SubFactory(UserFactory)


class RetestOrderFactory(DjangoModelFactory[RetestOrder]):
    class Meta:
        model = RetestOrder

    drum = factory.SubFactory(DrumFactory)
    ordered_by = factory.SubFactory(UserFactory)
    ordered_at = datetime(2026, 11, 1, 9, 0, tzinfo=UTC)
    due_on = date(2026, 12, 1)
    reason = "mark looks shifted in the photo"


class DrumFlagFactory(DjangoModelFactory[DrumFlag]):
    class Meta:
        model = DrumFlag

    drum = factory.SubFactory(DrumFactory)
    raised_by = factory.SubFactory(UserFactory)
    raised_at = datetime(2026, 11, 2, 9, 0, tzinfo=UTC)
    word = "mark looks low in the photo"


class GaugeFactory(DjangoModelFactory[Gauge]):
    class Meta:
        model = Gauge

    vessel = factory.SubFactory(VesselFactory)
    name = factory.Sequence(lambda n: f"PG-{n}")
    serial_number = factory.Sequence(lambda n: f"G{n:05d}")
    unit = "bar"
    full_scale = factory.LazyFunction(lambda: Typed.read("250", "bar"))
    smallest_division = factory.LazyFunction(lambda: Typed.read("1", "bar"))
    accuracy_class = "1"


class GaugeCalibrationFactory(DjangoModelFactory[GaugeCalibration]):
    class Meta:
        model = GaugeCalibration

    gauge = factory.SubFactory(GaugeFactory)
    calibrated_on = date(2026, 6, 1)
    certificate_number = factory.Sequence(lambda n: f"CAL-{n}")
    laboratory = "Harbour calibration workshop"
    author = factory.SubFactory(UserFactory)


class JackFactory(DjangoModelFactory[Jack]):
    class Meta:
        model = Jack

    vessel = factory.SubFactory(VesselFactory)
    name = factory.Sequence(lambda n: f"J-{n}")
    serial_number = factory.Sequence(lambda n: f"J{n:05d}")
    kind = "plain"
    bore = factory.LazyFunction(lambda: Typed.read("95.25", "mm"))
    stated_area = factory.LazyFunction(lambda: Typed.read("71.26", "cm2"))
    stated_area_document = "jack certificate"
    nominal_capacity = factory.LazyFunction(lambda: Typed.read("50", "tf"))
    rated_pressure = factory.LazyFunction(lambda: Typed.read("700", "bar"))


class LeverFactory(DjangoModelFactory[Lever]):
    class Meta:
        model = Lever

    vessel = factory.SubFactory(VesselFactory)
    name = factory.Sequence(lambda n: f"L-{n}")
    arm = factory.LazyFunction(lambda: Typed.read("1000", "mm"))
    safe_load = factory.LazyFunction(lambda: Typed.read("200", "kN"))


class FootingFactory(DjangoModelFactory[Footing]):
    class Meta:
        model = Footing

    vessel = factory.SubFactory(VesselFactory)
    name = factory.Sequence(lambda n: f"Plate {n}")
    allowed_load = factory.LazyFunction(lambda: Typed.read("250", "kN"))


class KitFactory(DjangoModelFactory[Kit]):
    """One gauge, one jack, one lever, one footing, all of the kit's own vessel."""

    class Meta:
        model = Kit
        skip_postgeneration_save = True

    vessel = factory.SubFactory(VesselFactory)
    name = factory.Sequence(lambda n: f"Kit {n}")
    gauge = factory.SubFactory(GaugeFactory, vessel=factory.SelfAttribute("..vessel"))
    lever = factory.SubFactory(LeverFactory, vessel=factory.SelfAttribute("..vessel"))
    footing = factory.SubFactory(FootingFactory, vessel=factory.SelfAttribute("..vessel"))

    @factory.post_generation
    def jacks(self: Kit, create: bool, extracted: list[Jack] | None, **kwargs: Any) -> None:
        if create:
            for position, jack in enumerate(extracted or [JackFactory(vessel=self.vessel)], start=1):
                KitJack.objects.create(kit=self, jack=jack, position=position)

    @factory.post_generation
    def calibrated(self: Kit, create: bool, extracted: bool | None, **kwargs: Any) -> None:
        if create and extracted is not False:
            GaugeCalibrationFactory(gauge=self.gauge)


class RoundFactory(DjangoModelFactory[Round]):
    class Meta:
        model = Round

    vessel = factory.SubFactory(VesselFactory)
    kit = factory.SubFactory(KitFactory, vessel=factory.SelfAttribute("..vessel"))
    started_on = date(2026, 11, 20)
    place = "at anchor, inner roads"
    permit = "permit 26-114"
    weather = "dry, wind force 2"
    people = factory.LazyFunction(lambda: [{"name": "Ada Voss", "rank": "chief officer"}])
    opened_by = factory.SubFactory(UserFactory)


class DrumTestFactory(DjangoModelFactory[DrumTest]):
    class Meta:
        model = DrumTest

    round = factory.SubFactory(RoundFactory)
    drum = factory.LazyAttribute(lambda test: DrumParticularsFactory(drum__winch__vessel=test.round.vessel).drum)
    created_by = factory.SubFactory(UserFactory)


class ReadingFactory(DjangoModelFactory[Reading]):
    class Meta:
        model = Reading

    test = factory.SubFactory(DrumTestFactory)
    order = factory.Sequence(lambda n: n + 1)
    phase = Phase.ADJUSTING
    mark_text = "50"
    mark_unit = "mm"
    mark_si = 0.05
    gauge_text = "173"
    gauge_unit = "bar"
    gauge_si = 17_300_000.0
    slipped = True
    author = factory.SubFactory(UserFactory)
