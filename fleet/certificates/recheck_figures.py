"""Works every figure of a record out again, from what the record itself holds and the calculation package alone."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from statistics import fmean
from typing import Any

from fleet.calculation import brake, gauge, units
from fleet.calculation.gauge_certificate import CertificatePoint, GaugeCertificate
from fleet.calculation.geometry import LINE_ON_LINE, NESTED
from fleet.certificates.recheck_lines import FIGURES, Line, compared, same
from fleet.drums.figures import setting_typed

Record = dict[str, Any]
AS_FOUND = ("as_found_untouched", "as_found_reapplied")
VERIFICATION = "verification"


@dataclass(frozen=True)
class Rebuilt:
    """A record's target and limits, made anew; every property raises ValueError, KeyError or TypeError where the record
    does not hold what it takes."""

    record: Record

    @property
    def base_n(self) -> float:
        return float(self.record["vessel"]["base_load"]["si"])

    @property
    def share(self) -> float:
        return float(self.record["policy"]["share"])

    @property
    def unit(self) -> str:
        return str(self.record["kit"]["gauge"]["unit"])

    @cached_property
    def true_target(self) -> brake.Target:
        return _target_of(self.record)

    @cached_property
    def certificate(self) -> GaugeCertificate | None:
        """Of the kit's gauge, where it counts: never for a jack calibrated as force, nor where it does not reach."""
        points = (self.record["kit"]["gauge"]["calibration"] or {}).get("points")
        if not points or self.record["target_basis"] == brake.FORCE_CALIBRATED_JACK:
            return None
        certificate = GaugeCertificate(points=[_point_of(row) for row in points])
        shown = brake.TargetOnGauge(target=self.true_target, certificate=certificate)
        try:
            # All that a test reads: the aim, STOP, and the division mark below each of them.
            stop = self._stop(shown)
            shown.pressure_for(self.share * self.base_n)
            for mark in self.marks(self.share * self.base_n, stop.reading_si, shown):
                shown.load_at(units.to_si(mark, self.unit))
        except brake.OutsideCertificate:
            return None
        return certificate

    @cached_property
    def target(self) -> brake.Target:
        """As the kit's gauge shows it."""
        if self.certificate is None:
            return self.true_target
        return brake.TargetOnGauge(target=self.true_target, certificate=self.certificate)

    def marks(self, load_n: float, stop_si: float, target: brake.Target) -> tuple[float, float]:
        """The gauge's division marks for a load and for STOP, in its own unit."""
        division = units.from_si(float(self.record["kit"]["gauge"]["smallest_division"]["si"]), self.unit)
        stop_mark = gauge.division_at_or_below(units.from_si(stop_si, self.unit), division)
        reading = units.from_si(target.pressure_for(load_n), self.unit)
        return min(gauge.nearest_division(reading, division), stop_mark), stop_mark

    @cached_property
    def aim(self) -> brake.RenderingTarget:
        return brake.rendering_target(
            sdmbl_n=self.base_n,
            share=self.share,
            target=self.target,
            gauge_unit=self.unit,
            base_name=str(self.record["vessel"]["base_load"]["kind_label"]),
        )

    @cached_property
    def stop(self) -> brake.StopReading:
        return self._stop(self.target)

    def _stop(self, target: brake.Target) -> brake.StopReading:
        kit = self.record["kit"]
        return brake.stop_reading(
            target=target,
            sdmbl_n=self.base_n,
            gauge_full_scale_si=float(kit["gauge"]["full_scale"]["si"]),
            ceiling_share=float(self.record["policy"]["ceiling"]),
            jack_rated_pressure_pa=min((float(jack["rated_pressure"]["si"]) for jack in kit["jacks"]), default=None),
            lever_safe_load_n=_si(kit["lever"]["safe_load"]),
            deck_allowed_load_n=_si(kit["footing"]["allowed_load"]) if kit["footing"] else None,
            target_share=self.share,
        )

    def at(self, reading_si: float) -> tuple[float | None, float | None]:
        """Line load and share of the base load at a reading; nothing where a table does not cover it."""
        # Of a reading outside the gauge's certificate nothing better is known than itself.
        target = self.target if self.is_covered(reading_si) else self.true_target
        try:
            found = brake.load_at_reading(reading_si=reading_si, sdmbl_n=self.base_n, target=target)
        except brake.OutsideTable:
            return None, None
        return found.load_n, found.share

    def is_covered(self, reading_si: float) -> bool:
        """Whether the gauge's certificate counts and says something of this reading."""
        if self.certificate is None:
            return False
        try:
            self.certificate.corrected(reading_si)
        except brake.OutsideTable:
            return False
        return True


def figure_lines(record: Record) -> list[Line]:
    """Every figure of the record beside the one worked out again."""
    rebuilt = Rebuilt(record)
    lines: list[Line] = []
    parts = (_typed_lines, _target_lines, _working_lines, _stop_lines, _reading_lines, _result_lines, _layer_lines)
    for part in parts:
        try:
            lines += part(rebuilt)
        except (ValueError, KeyError, TypeError, AttributeError, ZeroDivisionError, OverflowError) as error:
            what = part.__name__.strip("_").removesuffix("_lines")
            lines.append(Line(FIGURES, what, False, f"cannot be worked out from this record ({error})"))
    return lines


def _si(value: Record | None) -> float | None:
    return None if value is None else float(value["si"])


def _point_of(row: Record) -> CertificatePoint:
    uncertainty = _si(row["U"])
    return CertificatePoint(
        reading_pa=float(row["reading"]["si"]),
        reference_pa=float(row["reference"]["si"]),
        expanded_uncertainty_pa=uncertainty or None,
        coverage_factor=row["k"] or 2.0,
        direction=row["direction"],
    )


def _target_of(record: Record) -> brake.Target:
    basis, jacks, drum = record["target_basis"], record["kit"]["jacks"], record["drum"]
    if basis == brake.LOAD_CELL:
        return brake.LoadCellTarget()
    if basis == brake.MAKERS_TABLE:
        return brake.MakersTableTarget(
            pressures_pa=tuple(float(row["pressure"]["si"]) for row in record["maker_table"]),
            loads_n=tuple(float(row["load"]["si"]) for row in record["maker_table"]),
            table_jack=record["maker_table_jack"],
            jack=jacks[0]["serial_number"] if len(jacks) == 1 else "",
            total_area_m2=jacks[0]["area_m2"],
        )
    shape: dict[str, Any] = {
        "drum_diameter_m": float(record["figures"]["drum_diameter"]["si"]),
        "line_diameter_m": float(record["figures"]["line_diameter"]["si"]),
        "layer": drum["reference_layer"],
        "nesting": drum["nesting"],
    }
    if basis == brake.FORCE_CALIBRATED_JACK:
        table = jacks[0]["force_table"]
        return brake.ForceCalibratedTarget(
            readings_pa=tuple(float(row["reading"]["si"]) for row in table),
            forces_n=tuple(float(row["force"]["si"]) for row in table),
            lever_arm_m=float(jacks[0]["lever_arm_m"]),
            **shape,
        )
    if basis != brake.GEOMETRY:
        raise ValueError(f"the target basis {basis!r} is not known")
    arms = [brake.JackArm(area_m2=float(row["area_m2"]), lever_arm_m=float(row["lever_arm_m"])) for row in jacks]
    return brake.GeometryTarget(arms=tuple(arms), **shape)


def _typed_lines(rebuilt: Rebuilt) -> Iterator[Line]:
    """What people typed, read once more in its unit."""
    wrong, number = [], 0
    for path, value in _walk(rebuilt.record, ""):
        if not {"text", "unit", "si"} <= value.keys():
            continue
        number += 1
        again = setting_typed(value["text"], value["unit"])
        if not same(float(value["si"]), again.si) or value.get("shown", str(again)) != str(again):
            wrong.append(f"{path}: “{again}” is kept as {value['si']:g}, shown as “{value.get('shown', '')}”")
    for row in rebuilt.record["readings"]:
        for name in ("mark", "gauge"):
            number += 1
            again = setting_typed(row[f"{name}_text"], row[f"{name}_unit"])
            if not same(float(row[f"{name}_si"]), again.si):
                wrong.append(f"reading {row['order']}: “{again}” is kept as {row[f'{name}_si']:g}")
    yield Line(
        FIGURES, "figures as typed", not wrong, "; ".join(wrong) or f"{number} figures read again in their units"
    )


def _walk(value: Any, path: str) -> Iterator[tuple[str, Record]]:
    if isinstance(value, dict):
        yield path, value
        for name, part in value.items():
            yield from _walk(part, f"{path}.{name}".strip("."))
    elif isinstance(value, list):
        for place, part in enumerate(value, start=1):
            yield from _walk(part, f"{path} {place}")


def _target_lines(rebuilt: Rebuilt) -> Iterator[Line]:
    kept, aim, unit = rebuilt.record["target"], rebuilt.aim, rebuilt.unit
    policy = rebuilt.record["policy"]
    yield compared(FIGURES, "share aimed at", policy["share_shown"], units.display(rebuilt.share, "percent"))
    yield compared(
        FIGURES,
        "target load",
        {"shown": kept["load_shown"], "tf_shown": kept["load_tf_shown"], "n": kept["load_n"]},
        {"shown": units.display(aim.load_n, "kN"), "tf_shown": units.display(aim.load_n, "tf"), "n": aim.load_n},
    )
    yield compared(
        FIGURES,
        "target reading",
        {"shown": kept["reading_shown"], "si": kept["reading_si"]},
        {"shown": units.display(aim.reading_si, unit), "si": aim.reading_si},
    )


def _working_lines(rebuilt: Rebuilt) -> Iterator[Line]:
    again = {step.key: step for step in rebuilt.aim.steps}
    kept = rebuilt.record["working"]
    yield compared(FIGURES, "working, its steps", [line["key"] for line in kept], list(again))
    for line in kept:
        step = again.get(line["key"])
        if step is None:
            continue
        yield compared(
            FIGURES,
            f"working, {line['name']}",
            {"from_shown": [row["shown"] for row in line["values"]], "shown": line["shown"], "si": line["result_si"]},
            {"from_shown": [row.shown for row in step.values], "shown": step.shown, "si": float(step.result_si)},
        )


def _stop_lines(rebuilt: Rebuilt) -> Iterator[Line]:
    kept, stop, unit = rebuilt.record["stop"], rebuilt.stop, rebuilt.unit
    yield compared(
        FIGURES,
        "STOP reading",
        {"limit": kept["limit"], "shown": kept["reading_shown"], "si": kept["reading_si"]},
        {"limit": stop.limit, "shown": units.display(stop.reading_si, unit), "si": stop.reading_si},
    )
    mark, stop_mark = rebuilt.marks(rebuilt.aim.load_n, stop.reading_si, rebuilt.target)
    target = rebuilt.record["target"]
    _load, share = rebuilt.at(units.to_si(mark, unit))
    yield compared(
        FIGURES,
        "division marks for target and STOP",
        [target["mark_shown"], target["mark_share_shown"], kept["mark_shown"]],
        [
            f"{mark:g} {units.label(unit)}",
            units.display(share, "percent") if share is not None else "",
            f"{stop_mark:g} {units.label(unit)}",
        ],
    )


def _reading_lines(rebuilt: Rebuilt) -> Iterator[Line]:
    for row in rebuilt.record["readings"]:
        load_n, share = rebuilt.at(float(row["gauge_si"]))
        yield compared(
            FIGURES,
            f"line load of reading {row['order']}, {row['phase_label']}",
            {name: row[name] for name in ("load_shown", "share_shown", "load_n", "share")},
            {
                "load_shown": units.digits(load_n, "kN") if load_n is not None else "–",
                "share_shown": units.digits(share, "percent") if share is not None else "–",
                "load_n": load_n,
                "share": share,
            },
        )


def _result_lines(rebuilt: Rebuilt) -> Iterator[Line]:
    kept = rebuilt.record["results"]
    found, is_held = as_found_of(rebuilt)
    shown = units.display(found, "percent") if found is not None else ""
    yield compared(
        FIGURES,
        "as found",
        [kept["as_found_share_shown"], kept["as_found_share"], kept["as_found_held"]],
        [f"more than {shown}" if is_held else shown, found, is_held],
    )
    slips = [
        pair
        for row in rebuilt.record["readings"]
        if row["phase"] == VERIFICATION
        and row["slipped"]
        and (pair := rebuilt.at(float(row["gauge_si"])))[1] is not None
    ]
    loads, shares = [load or 0.0 for load, _share in slips], [share or 0.0 for _load, share in slips]
    left, left_n = (fmean(shares), fmean(loads)) if slips else (None, None)
    yield compared(
        FIGURES,
        "as left, mean of the verification slips",
        [kept[f"as_left_{name}"] for name in ("share_shown", "load_shown", "load_tf_shown", "share", "load_n")],
        [
            units.display(left, "percent") if left is not None else "",
            units.display(left_n, "kN") if left_n is not None else "",
            units.display(left_n, "tf") if left_n is not None else "",
            left,
            left_n,
        ],
    )
    yield compared(FIGURES, "number of verification slips", kept["verification_slips"], len(slips))
    spread = max(shares) - min(shares) if len(shares) > 1 else None
    yield compared(
        FIGURES,
        "spread of the verification slips",
        [kept["spread_shown"], kept["spread_share"]],
        [units.display(spread, "percent") if spread is not None else "", spread],
    )
    policy = rebuilt.record["policy"]
    low, high = float(policy["band_low"]), float(policy["band_high"])
    yield compared(FIGURES, "in the band, as read", kept["in_band"], None if left is None else low <= left <= high)


def as_found_of(rebuilt: Rebuilt) -> tuple[float | None, bool]:
    """The first as-found slip; of a brake that only held, the highest of those readings, as "more than"."""
    found = [
        (share, row["slipped"])
        for row in rebuilt.record["readings"]
        if row["phase"] in AS_FOUND and (share := rebuilt.at(float(row["gauge_si"]))[1]) is not None
    ]
    slip = next((share for share, slipped in found if slipped), None)
    if slip is not None or not found:
        return slip, False
    return max(share for share, _slipped in found), True


def _layer_lines(rebuilt: Rebuilt) -> Iterator[Line]:
    part = rebuilt.record.get("layers")
    if part is None:
        return
    load_n = rebuilt.record["results"]["as_left_load_n"] if part["load_of"] == "as_left" else rebuilt.aim.load_n
    figures = rebuilt.record["figures"]
    for row in part["rows"]:
        again: list[str] = []
        for nesting in (LINE_ON_LINE, NESTED):
            (found,) = brake.layer_table(
                load_n=load_n,
                sdmbl_n=rebuilt.base_n,
                drum_diameter_m=float(figures["drum_diameter"]["si"]),
                line_diameter_m=float(figures["line_diameter"]["si"]),
                set_layer=part["set_layer"],
                layers=(row["layer"],),
                nesting=nesting,
            )
            again += [units.display(found.load_n, "kN"), units.display(found.share, "percent")]
        names = ("on_line_load_shown", "on_line_share_shown", "nested_load_shown", "nested_share_shown")
        yield compared(FIGURES, f"layer {row['layer']}", [row[name] for name in names], again)
