"""The calculation works where there is no Django, and its units where there is no SciPy either."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def run_without(*absent: str, program: str) -> list[str]:
    barred = "".join(f"sys.modules[{name!r}] = None\n" for name in absent)
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", f"import sys\n{barred}{program}"],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=True,
    )
    return done.stdout.split()


def test_a_whole_target_is_worked_out_without_django() -> None:
    program = """
from fleet.calculation import brake, compute, gauge, geometry, stop, tables, units
jack = brake.equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
print(units.digits(brake.rendering_target(sdmbl_n=637e3, share=0.6, target=jack).reading_si, "bar"))
print("django" in [name for name, module in sys.modules.items() if module])
"""
    assert run_without("django", program=program) == ["173.2", "False"]


def test_units_convert_without_scipy() -> None:
    # pint looks for SciPy by itself and uses it where it is found; units must not lean on it.
    program = "from fleet.calculation import units\nprint(units.to_si(1.0, 'kgf/cm2'))"
    assert run_without("django", "scipy", program=program) == ["98066.5"]
