"""From the database to the flags of a whole company, and how much of it is the database: prints seconds and ratios.

By hand: python -m tests.benchmarks.drift_database [--vessels 1000] [--years 20] (14 drums a vessel). The fleet is a
virtual one. Its points are written without their tests and submissions, which reading never looks at. Beside it stands
a loop that fits each drum's line on its own with statsmodels, timed on some drums and counted up to all.
"""

import argparse
import os
import tempfile
import uuid
from datetime import date
from pathlib import Path
from time import perf_counter

import numpy as np

FOLDER = tempfile.mkdtemp(prefix="drift-")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.settings")
os.environ["DATABASE_URL"] = f"sqlite:///{Path(FOLDER) / 'drift.sqlite3'}"

import django  # noqa: E402

django.setup()

import statsmodels.api as sm  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402

from fleet.accounts.models import Company  # noqa: E402
from fleet.calculation.drift import analyse  # noqa: E402
from fleet.calculation.drift_histories import BRAKE_WORK, LINING_RENEWED, SETTING_KINDS, Histories  # noqa: E402
from fleet.core.typed import Typed  # noqa: E402
from fleet.drift.histories import company_histories, day_of  # noqa: E402
from fleet.drift.models import HistoryPoint  # noqa: E402
from fleet.drums.models import BrakeEvent, Drum, DrumParticulars, Winch  # noqa: E402
from fleet.simulation.fleet import simulate  # noqa: E402
from fleet.simulation.fleet_histories import histories_of  # noqa: E402
from fleet.vessels.models import Vessel  # noqa: E402

BATCH = 2_000
LOOP_DRUMS = 200
BEST_OF = 3
# A virtual fleet counts its years from nought.
FIRST_YEAR = 2006
PHASES = ("", "as_found_untouched", "as_found_reapplied")
EVENTS = {LINING_RENEWED: "lining_renewed", BRAKE_WORK: "brake_overhauled"}


def write(histories: Histories) -> Company:
    """The company's rows as far as reading looks at them."""
    company = Company.objects.create(name="Benchmark Lines", short_code="BM")
    author = uuid.uuid4()
    vessels = [
        Vessel(company=company, name=f"Vessel {n}", imo_number=f"{n:07}", base_load=Typed.read("637", "kN"))
        for n in range(int(histories.vessel.max()) + 1)
    ]
    Vessel.objects.bulk_create(vessels, BATCH)
    winches = [Winch(vessel=vessel, name="W1") for vessel in vessels]
    Winch.objects.bulk_create(winches, BATCH)
    drums = [
        Drum(
            winch=winches[histories.vessel[n]],
            name=f"D{n}",
            area="aft",
            side="port",
            kind="split",
            setting_kind=SETTING_KINDS[histories.setting_kind[n]],
            tighter_is="longer" if histories.tighter_sign[n] > 0 else "shorter",
            mark_from="edge",
            mark_to="nut",
        )
        for n in range(histories.drums)
    ]
    Drum.objects.bulk_create(drums, BATCH)
    DrumParticulars.objects.bulk_create(
        (
            DrumParticulars(
                drum=drum,
                valid_from=date(2000, 1, 1),
                line_material="wire",
                reason="first",
                author_id=author,
                figures={
                    "drum_diameter": {"si": 0.61 + 0.01 * int(histories.winch_type[n])},
                    "mark_least": {"si": float(np.nan_to_num(histories.mark_limit_si[n]))},
                    "mark_most": {"si": float(np.nan_to_num(histories.mark_limit_si[n]))},
                    "lining_minimum": {"si": float(np.nan_to_num(histories.lining_minimum_m[n], nan=0.006))},
                },
            )
            for n, drum in enumerate(drums)
        ),
        BATCH,
    )
    BrakeEvent.objects.bulk_create(
        (
            BrakeEvent(
                drum=drums[drum], happened_on=day_of(FIRST_YEAR + float(year)), kind=EVENTS[int(kind)], author_id=author
            )
            for drum, year, kind in zip(histories.event_drum, histories.event_year, histories.event_kind, strict=True)
        ),
        BATCH,
    )
    rounds: dict[int, uuid.UUID] = {}
    gauges: dict[int, uuid.UUID] = {}
    HistoryPoint.objects.bulk_create(
        (_point(histories, row, drums, rounds, gauges) for row in range(histories.tests)), BATCH
    )
    return company


def _point(
    histories: Histories, row: int, drums: list[Drum], rounds: dict[int, uuid.UUID], gauges: dict[int, uuid.UUID]
) -> HistoryPoint:
    def known(values: np.ndarray) -> float | None:
        return float(values[row]) if np.isfinite(values[row]) else None

    return HistoryPoint(
        test_id=uuid.uuid4(),
        submission_id=uuid.uuid4(),
        drum=drums[histories.drum[row]],
        round_id=rounds.setdefault(int(histories.round_id[row]), uuid.uuid4()),
        gauge_id=gauges.setdefault(int(histories.gauge[row]), uuid.uuid4()),
        tested_on=day_of(FIRST_YEAR + float(histories.year[row])),
        set_in_band=True,
        setting_unit="mm",
        setting_si=known(histories.mark_si),
        as_left_share=known(histories.as_left_share),
        slope_share_per_si=known(histories.slope_share_per_si),
        gauge_share=known(histories.gauge_share),
        lining_m=known(histories.lining_m),
        as_found_phase=PHASES[histories.as_found_kind[row]],
        as_found_share=known(histories.as_found_share),
        as_found_held=bool(histories.as_found_held[row]),
        target_share=known(histories.target_share),
        band_low=known(histories.lower_share),
        band_high=known(histories.upper_share),
    )


def loop_seconds(histories: Histories) -> float:
    """One line per drum by statsmodels, counted up from some drums to all."""
    some = np.linspace(0, histories.drums - 1, min(LOOP_DRUMS, histories.drums)).astype(int)
    begun = perf_counter()
    for drum in some:
        first, last = np.searchsorted(histories.drum, [drum, drum + 1])
        if last - first > 2:
            fit = sm.OLS(histories.mark_si[first:last], sm.add_constant(histories.year[first:last])).fit()
            fit.get_prediction([[1.0, histories.year[last - 1] + 1]]).conf_int(obs=True)
    return (perf_counter() - begun) / len(some) * histories.drums


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--vessels", type=int, default=1000)
    asked.add_argument("--years", type=int, default=20)
    options = asked.parse_args()
    call_command("migrate", verbosity=0)
    virtual = histories_of(simulate(vessels=options.vessels, years=options.years, seed=1))
    begun = perf_counter()
    with connection.constraint_checks_disabled():
        company = write(virtual)
    print(f"{virtual.drums} drums, {virtual.tests} tests written in {perf_counter() - begun:.1f} s")
    reading, kernel, flags = [], [], 0
    for _ in range(BEST_OF):
        begun = perf_counter()
        read = company_histories(company, on=date(2026, 1, 1)).histories
        reading.append(perf_counter() - begun)
        begun = perf_counter()
        flags = len(analyse(read).flags.test)
        kernel.append(perf_counter() - begun)
    assert read.tests == virtual.tests
    loop = loop_seconds(virtual)
    whole = min(reading) + min(kernel)
    print(
        f"database to histories {min(reading):.2f} s, analysis to {flags} flags {min(kernel):.2f} s, both {whole:.2f} s"
    )
    print(f"a loop over drums with statsmodels, lines only: {loop:.1f} s, {loop / whole:.1f} times both")
    print(f"and {loop / min(kernel):.1f} times the analysis alone")


if __name__ == "__main__":
    main()
