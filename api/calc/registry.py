"""All calculations by name, in the order in which they are listed."""

from typing import Final

from api.calc import bench, breathing, changing, sizes, turning
from api.calc.form import Calculation

CALCULATIONS: Final[dict[str, Calculation]] = {
    calculation.name: calculation
    for calculation in (
        sizes.FIT,
        sizes.STACK,
        sizes.WALL,
        sizes.CONTOUR,
        sizes.GROWTH,
        turning.TRIM,
        turning.TIP_SPEED,
        turning.BLADE_PASS,
        turning.BALANCE,
        breathing.AIR,
        breathing.DENSITY,
        breathing.COMPRESSION,
        breathing.CORRECTED_FLOW,
        breathing.ATMOSPHERE,
        bench.THREAD,
        bench.CUTTING,
        breathing.MAP,
        changing.CHANGES,
    )
}
