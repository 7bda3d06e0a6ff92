"""An invented shop of one layout, one unit and one engine, as sheets of text, published and asked through the store.

Every size of it lies inside its rule, so that whatever a test changes is all that an answer can come from.
"""

import copy
import csv
import tempfile
from pathlib import Path
from typing import Final

from graph.desk.desk import Desk
from graph.index.store import Store
from graph.model.fits import FitsAnswer
from graph.model.plan import PlanAnswer
from graph.model.verdict import Verdict
from graph.publish import publish
from graph.publish.files import PublishReport

Book = dict[str, list[list[str]]]

SHEETS: Final = {
    "sources": """\
source,kind,title,who,date
dwg,drawing,d,,2024-01-01
dwg2,drawing,d,,2024-01-01
cat,maker,c,,2020
sup,supplier,s,,
bench,shop,,,
gossip,heard,,,
gauge,measured,,,
""",
    "kinds": """\
kind,label,parent,one_time,rotating
wheel,compressor wheel,,,yes
cover,compressor cover,,,
backplate,backplate,,,
bearing_housing,bearing housing,,,
rotor,shaft and turbine wheel,,,yes
bearing,journal bearing,,,
turbine_housing,turbine housing,,,
actuator,actuator,,,
sensor,speed sensor,,,
seal,seal,,yes,
""",
    "layouts": """\
layout,seat,kind,quantity,may_be_empty
wg,wheel,wheel,1,no
wg,cover,cover,1,no
wg,bearing_housing,bearing_housing,1,no
wg,bearing,bearing,2,no
wg,rotor,rotor,1,no
wg,turbine_housing,turbine_housing,1,no
wg,actuator,actuator,1,no
wg,sensor,sensor,1,yes
wg,seal,seal,2,yes
""",
    "joints": """\
layout,joint,seats,label
wg,contour,wheel|cover,wheel in cover
wg,nose,wheel|rotor,wheel on shaft
wg,bore,bearing|bearing_housing,bearing in housing
wg,journal,bearing|rotor,journal in bearing
wg,tcontour,rotor|turbine_housing,turbine gap
wg,foot,turbine_housing|engine,foot
wg,oil,bearing_housing|engine,oil
wg,rot,rotor|wheel,rotation
wg,ctl,actuator|engine,control
wg,sens,sensor|engine,sensor
wg,env,cover|engine,envelope
wg,burst,wheel|engine,burst speed
""",
    "rules": """\
layout,joint,rule,type,left,right,min,max,unit,set,safety
wg,contour,gap,clearance,cover.bore,wheel.exducer,0.4,0.8,mm,,
wg,nose,nose,interference,wheel.nose_bore,rotor.nose,0.005,0.02,mm,,
wg,bore,film out,clearance,bearing_housing.bearing_bore,bearing.od,0.10,0.14,mm,,
wg,journal,film in,clearance,bearing.id,rotor.journal,0.03,0.06,mm,,
wg,tcontour,tgap,clearance,turbine_housing.tbore,rotor.texducer,0.5,1.0,mm,,
wg,foot,foot,same,turbine_housing.foot,engine.foot,,,,,
wg,oil,oil,thread,bearing_housing.oil_thread,engine.oil_thread,,,,,
wg,rot,rot,same,rotor.hand,wheel.hand,,,,,
wg,ctl,pressure,control,actuator.signal,engine.signal,,,,ctl,
wg,ctl,opening,same,actuator.opening,engine.opening,,10,kPa,,
wg,sens,plug,same,sensor.plug,engine.plug,,,,,
wg,env,height,at_most,cover.height,engine.room,5,,mm,,
wg,burst,speed,at_least,wheel.max_speed,engine.shaft_speed,,,,,yes
""",
    "accepted": """\
set,left_value,right_value
ctl,pressure,boost line
ctl,duty,pwm
""",
    "features": """\
feature,label,type,unit,duty,better,wears
bore,contour bore,length,mm,,,
exducer,exducer,length,mm,yes,larger,
nose_bore,nose bore,length,mm,,,
nose,nose,length,mm,,,
bearing_bore,bearing bore,length,mm,,,yes
od,outside,length,mm,,,
id,inside,length,mm,,,
journal,journal,length,mm,,,yes
tbore,turbine bore,length,mm,,,
texducer,turbine exducer,length,mm,yes,larger,
foot,foot,code,,,,
oil_thread,oil thread,code,,,,
hand,hand,code,,yes,same,
signal,signal,code,,,,
opening,opening pressure,pressure,kPa,,,
plug,plug,code,,,,
height,height,length,mm,,,
room,room,length,mm,,,
max_speed,wheel speed limit,speed,rpm,yes,larger,
shaft_speed,shaft speed,speed,rpm,,,
wall,wall,length,mm,,,
blades,blades,count,,yes,same,
""",
    "parts": """\
maker,number,kind,label
Ostrel,W-1,wheel,
Ostrel,W-2,wheel,
Ostrel,C-1,cover,
Ostrel,BH-1,bearing_housing,
Ostrel,R-1,rotor,
Ostrel,JB-1,bearing,
Ostrel,TH-1,turbine_housing,
Ostrel,A-1,actuator,
Ostrel,S-1,sensor,
Ostrel,SR-1,seal,
""",
    "values": """\
maker,number,feature,value,unit,tolerance,limit_min,limit_max,source,rank,date
Ostrel,C-1,bore,58.6,mm,0.02,,64,dwg,,
Ostrel,C-1,height,100,mm,,,,dwg,,
Ostrel,W-1,exducer,58.0,mm,0.02,,,dwg,,
Ostrel,W-1,nose_bore,6.000,mm,0.001,,,dwg,,
Ostrel,W-1,hand,right,,,,,dwg,,
Ostrel,W-1,max_speed,120000,rpm,,,,dwg,,
Ostrel,W-2,exducer,62.0,mm,0.02,,,dwg,,
Ostrel,W-2,nose_bore,6.000,mm,0.001,,,dwg,,
Ostrel,W-2,hand,right,,,,,dwg,,
Ostrel,W-2,max_speed,110000,rpm,,,,dwg,,
Ostrel,R-1,nose,6.012,mm,0.001,,,dwg,,
Ostrel,R-1,journal,9.980,mm,0.002,,,dwg,,
Ostrel,R-1,texducer,52.0,mm,0.02,,,dwg,,
Ostrel,R-1,hand,right,,,,,dwg,,
Ostrel,JB-1,id,10.025,mm,0.003,,,dwg,,
Ostrel,JB-1,od,15.980,mm,0.003,,,dwg,,
Ostrel,BH-1,bearing_bore,16.100,mm,0.005,,,dwg,,
Ostrel,BH-1,oil_thread,M12x1.5,,,,,dwg,,
Ostrel,TH-1,tbore,52.7,mm,0.05,,,dwg,,
Ostrel,TH-1,foot,T-A4,,,,,dwg,,
Ostrel,A-1,signal,pressure,,,,,dwg,,
Ostrel,A-1,opening,120,kPa,3,,,dwg,,
Ostrel,S-1,plug,p3,,,,,dwg,,
""",
    "units": """\
maker,unit,layout,label
Ostrel,U-1,wg,one
""",
    "unit_seats": """\
maker,unit,seat,part_maker,part_number,quantity
Ostrel,U-1,wheel,Ostrel,W-1,1
Ostrel,U-1,cover,Ostrel,C-1,1
Ostrel,U-1,bearing_housing,Ostrel,BH-1,1
Ostrel,U-1,bearing,Ostrel,JB-1,2
Ostrel,U-1,rotor,Ostrel,R-1,1
Ostrel,U-1,turbine_housing,Ostrel,TH-1,1
Ostrel,U-1,actuator,Ostrel,A-1,1
Ostrel,U-1,sensor,Ostrel,S-1,1
Ostrel,U-1,seal,Ostrel,SR-1,2
""",
    "engines": """\
maker,engine,label
Brackmoor,E1,one
""",
    "engine_values": """\
maker,engine,feature,value,unit,tolerance,source,rank,date
Brackmoor,E1,foot,T-A4,,,dwg,,
Brackmoor,E1,oil_thread,M12x1.5,,,dwg,,
Brackmoor,E1,signal,boost line,,,dwg,,
Brackmoor,E1,opening,120,kPa,3,dwg,,
Brackmoor,E1,plug,p3,,,dwg,,
Brackmoor,E1,room,110,mm,,dwg,,
Brackmoor,E1,shaft_speed,105000,rpm,,dwg,,
""",
    "fitments": """\
machine_maker,machine,engine_maker,engine,unit_maker,unit,year_from,year_to
Tarnholt,F8,Brackmoor,E1,Ostrel,U-1,2009,2011.5
""",
    "operations": """\
operation,label,kind,feature,effect,to_value,tolerance,limit_feature,wall_feature,wall_positions,wall_share,core_shift,setup_minutes,minutes,minutes_per_mm,rate,needs,excludes,follows,reversible
bore cover,bore the cover,cover,bore,widen_to_suit,,0.01,,,,,,20,30,5,shop,,,balance,no
balance,balance,,,service,,,,,,,,5,40,,shop,,,,
""",
    "rates": """\
name,per_hour,currency
shop,60,EUR
""",
    "prices": """\
maker,number,price,currency,as_of,lead_days
Ostrel,W-1,100,EUR,2026-01-01,3
Ostrel,W-2,140,EUR,2026-01-01,3
Ostrel,C-1,210,EUR,2026-01-01,5
Ostrel,BH-1,150,EUR,2026-01-01,5
Ostrel,R-1,180,EUR,2026-01-01,5
Ostrel,JB-1,8,EUR,2026-01-01,5
Ostrel,TH-1,220,EUR,2026-01-01,5
Ostrel,A-1,90,EUR,2026-01-01,5
Ostrel,S-1,40,EUR,2026-01-01,5
Ostrel,SR-1,3,EUR,2026-01-01,5
""",
    "stock": """\
maker,number,place,quantity
Ostrel,W-2,bin,2
""",
    "cores": """\
tag,received,as_built_maker,as_built_unit,book_value,currency,own,may_donate
K1,2026-01-09,Ostrel,U-1,40,EUR,no,no
""",
    "readings": """\
tag,seat,feature,value,unit,uncertainty,who,date,position,source
K1,bearing_housing,bearing_bore,16.102,mm,0.002,Rao,2026-02-01,,
K1,rotor,journal,9.979,mm,0.002,Rao,2026-02-01,,
""",
    "builds": """\
build,layout,engine_maker,engine,label
stock,wg,Brackmoor,E1,stock
big,wg,Brackmoor,E1,big
""",
    "demands": """\
build,seat,feature,type,value,value_to,unit
big,wheel,exducer,at_least,61,,mm
""",
}

DAY: Final = "2026-11-28"


def book() -> Book:
    """A new copy: each sheet's rows, the header first."""
    return {name: [line.split(",") for line in text.strip().splitlines()] for name, text in SHEETS.items()}


def added(rows: Book, sheet: str, **cells: str) -> Book:
    """The book with one more row; a column that the sheet did not have is put into its header."""
    made = copy.deepcopy(rows)
    header = made.setdefault(sheet, [list(cells)])[0]
    for name in cells:
        if name not in header:
            header.append(name)
            for row in made[sheet][1:]:
                row.append("")
    made[sheet].append([cells.get(name, "") for name in header])
    return made


def changed(rows: Book, sheet: str, where: dict[str, str], **cells: str) -> Book:
    """The book with other cells in the rows that `where` names, of which there is at least one."""
    made = copy.deepcopy(rows)
    header = made[sheet][0]
    meant = [row for row in made[sheet][1:] if all(row[header.index(k)] == v for k, v in where.items())]
    assert meant, where
    for row in meant:
        for name, text in cells.items():
            row[header.index(name)] = text
    return made


def without(rows: Book, sheet: str, **where: str) -> Book:
    """The book without the rows that `where` names, of which there is at least one."""
    made = copy.deepcopy(rows)
    header = made[sheet][0]
    left = [row for row in made[sheet] if row is header or any(row[header.index(k)] != v for k, v in where.items())]
    assert len(left) < len(made[sheet]), where
    return {**made, sheet: left}


def value(rows: Book, number: str, feature: str, **cells: str) -> Book:
    """The book with other cells in a part's value of one feature."""
    return changed(rows, "values", {"number": number, "feature": feature}, **cells)


def cores(rows: Book, *tags: str) -> Book:
    """More cores like the first."""
    for tag in tags:
        rows = added(
            rows, "cores", tag=tag, received="2026-01-09", as_built_maker="Ostrel", as_built_unit="U-1",
            book_value="40", currency="EUR", own="no", may_donate="no",
        )  # fmt: skip
        for seat, feature, size in (("bearing_housing", "bearing_bore", "16.102"), ("rotor", "journal", "9.979")):
            rows = added(
                rows, "readings", tag=tag, seat=seat, feature=feature, value=size, unit="mm", uncertainty="0.002",
                who="Rao", date="2026-02-01",
            )  # fmt: skip
    return rows


def engine(rows: Book, feature: str, **cells: str) -> Book:
    """The book with other cells in the engine's value of one feature."""
    return changed(rows, "engine_values", {"feature": feature}, **cells)


class Shop:
    """A store that a book was published into, and its desk."""

    def __init__(self, rows: Book) -> None:
        self._folder = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
        self.path = Path(self._folder.name)
        self.store = Store.create(self.path / "store")
        self._books = 0
        self.report = self.publish(rows)

    def publish(self, rows: Book) -> PublishReport:
        """Publish one more book; the desk answers from it at once."""
        self._books += 1
        folder = self.path / f"book-{self._books}"
        folder.mkdir()
        for sheet, lines in rows.items():
            with (folder / f"{sheet}.csv").open("w", newline="", encoding="utf-8") as file:
                csv.writer(file).writerows(lines)
        self.report = publish(folder, self.store, author="Ada", time="2026-11-28T08:00:00Z")
        return self.report

    @property
    def codes(self) -> set[str]:
        """The kinds of finding of the last publishing."""
        return {finding.code for finding in self.report.findings}

    def fits(self, unit: str = "U-1", engine: str = "E1", **asked: str) -> FitsAnswer:
        """One direction of the question."""
        assert self.report.published, self.report.findings
        return Desk.over(self.store).fits(unit, engine, day=DAY, **asked)[0]  # type: ignore[arg-type]

    def plan(self, core: str = "K1", build: str = "stock") -> PlanAnswer:
        """The plan, judged by the checker."""
        assert self.report.published, self.report.findings
        return Desk.over(self.store).plan(core, build, day=DAY)

    def __enter__(self) -> "Shop":
        return self

    def __exit__(self, *_: object) -> None:
        self.store.close()
        self._folder.cleanup()


def verdict(rows: Book, **asked: str) -> Verdict:
    """What the published book says of the unit and the engine."""
    with Shop(rows) as shop:
        return shop.fits(**asked).verdict


def findings(rows: Book) -> set[str]:
    """The kinds of finding that stand in a book."""
    with Shop(rows) as shop:
        return shop.codes
