"""A small clean workbook with invented names, as lists of rows a sheet, and ways to put it on disk."""

import csv
from datetime import date
from pathlib import Path

import xlsxwriter

Rows = list[list[object]]
Workbook = dict[str, Rows]


class Formula(str):
    """A cell that a spreadsheet program computes."""


def small_workbook() -> Workbook:
    """A new copy: two kinds of wheel parts, one layout of three seats, one unit, one engine, one core, one build."""
    return {
        "sources": [
            ["source", "kind", "title", "who", "date"],
            ["cover drawing", "drawing", "Ostrel cover", "", "2024-05-01"],
            ["bench book", "shop", "", "M. Rao", ""],
        ],
        "kinds": [
            ["kind", "label", "parent"],
            ["wheel", "wheel", ""],
            ["compressor_wheel", "compressor wheel", "wheel"],
            ["cover", "compressor cover", ""],
            ["seal", "seal ring", ""],
        ],
        "layouts": [
            ["layout", "seat", "kind", "quantity", "may_be_empty"],
            ["plain", "wheel_seat", "wheel", "", "no"],
            ["plain", "cover_seat", "cover", "1", "no"],
            ["plain", "seal_seat", "seal", "2", "yes"],
        ],
        "joints": [
            ["layout", "joint", "seats", "label"],
            ["plain", "contour", "wheel_seat|cover_seat", "wheel in cover"],
            ["plain", "inlet", "cover_seat|engine", "hose"],
            ["plain", "seal", "seal_seat|cover_seat", "seal in cover"],
        ],
        "rules": [
            ["layout", "joint", "rule", "type", "left", "right", "min", "max", "unit", "set"],
            ["plain", "contour", "gap", "clearance", "cover_seat.bore", "wheel_seat.exducer", "0.4", "0.8", "mm", ""],
            ["plain", "inlet", "hose", "same", "cover_seat.inlet", "engine.inlet", "", "", "", ""],
            ["plain", "seal", "land", "at_most", "seal_seat.bore", "cover_seat.bore", "", "", "", ""],
            ["plain", "inlet", "hose pairs", "accepted", "cover_seat.inlet", "engine.inlet", "", "", "", "hoses"],
        ],
        "accepted": [["set", "left_value", "right_value"], ["hoses", "bead 60", "hose 60"]],
        "features": [
            ["feature", "label", "type", "unit", "duty"],
            ["exducer", "exducer", "length", "mm", "yes"],
            ["bore", "bore", "length", "mm", "no"],
            ["bore_max", "largest bore", "length", "mm", ""],
            ["inlet", "inlet joint", "code", "", ""],
            ["blades", "blades", "count", "", "yes"],
            ["weight", "weight", "mass", "g", ""],
            ["quoted_size", "size as quoted", "length", "mm", ""],
        ],
        "parts": [
            ["maker", "number", "kind", "label", "bore [mm]", "bore [in]", "inlet", "source"],
            ["Ostrel", "OS-100-1", "compressor_wheel", "", "", "", "", ""],
            ["Ostrel", "OS-100-2", "cover", "", "52.39", "2 1/16", "bead 60", "cover drawing"],
            ["Ostrel", "OS-100-3", "seal", "", "", "", "", ""],
            ["Quenby", "0044", "cover", "later cover", "", "2.0625", "bead 60", ""],
            ["Quenby", "K 7", "seal", "seal kit", "", "", "", ""],
        ],
        "values": [
            ["maker", "number", "feature", "value", "unit", "tolerance", "limit_min", "limit_max", "source", "date"],
            ["Ostrel", "OS-100-1", "exducer", "51,8", "mm", "0.02", "", "", "cover drawing", ""],
            ["Ostrel", "OS-100-1", "blades", "7", "", "", "", "", "", ""],
            ["Ostrel", "os 100 1", "weight", "4 1/2 oz", "", "", "", "", "bench book", "2025"],
        ],
        "supersession": [
            ["maker", "old", "new", "two_way", "from_date"],
            ["Ostrel", "OS-100-2", "OS-100-3", "no", "2025-02-01"],
        ],
        "interchange": [
            ["maker", "number", "other_maker", "other_number", "seat", "condition"],
            ["Ostrel", "OS-100-2", "Quenby", "0044", "cover_seat", ""],
        ],
        "units": [["maker", "unit", "layout", "label"], ["Ostrel", "OT-1", "plain", "first unit"]],
        "unit_seats": [
            ["maker", "unit", "seat", "part_maker", "part_number", "quantity"],
            ["Ostrel", "OT-1", "wheel_seat", "Ostrel", "OS-100-1", "1"],
            ["Ostrel", "OT-1", "cover_seat", "Ostrel", "OS-100-2", "1"],
        ],
        "engines": [
            ["maker", "engine", "label", "displacement", "cylinders", "rated_power", "rated_speed"],
            ["Brackmoor", "B5", "five cylinders", "4.5 L", "5", "110", "2200 rpm"],
        ],
        "engine_values": [
            ["maker", "engine", "feature", "value", "unit"],
            ["Brackmoor", "B5", "inlet", "bead 60", ""],
        ],
        "fitments": [
            ["machine_maker", "machine", "engine_maker", "engine", "unit_maker", "unit", "year_from", "year_to"],
            ["Tarnholt", "F8", "Brackmoor", "B5", "Ostrel", "OT-1", "2009", "2011.5"],
        ],
        "operations": [
            ["operation", "label", "kind", "feature", "effect", "to_value", "tolerance", "limit_feature",
             "setup_minutes", "minutes", "rate", "needs", "excludes", "follows", "wall_feature", "core_shift"],
            ["bore cover", "bore the cover", "cover", "bore", "widen_to_suit", "", "0.01 mm", "bore_max",
             "20", "30", "shop", "wash", "", "", "", ""],
            ["wash", "wash", "", "", "service", "", "", "", "0", "15", "", "", "", "", "", ""],
        ],
        "cores": [
            ["tag", "received", "as_built_maker", "as_built_unit", "book_value", "currency", "own", "may_donate"],
            ["C-01", "2026-01-09", "Ostrel", "OT-1", "40", "EUR", "no", "no"],
        ],
        "found_parts": [
            ["tag", "seat", "part_maker", "part_number", "state"],
            ["C-01", "wheel_seat", "Ostrel", "OS-100-1", "scrap"],
        ],
        "readings": [
            ["tag", "seat", "feature", "value", "unit", "uncertainty", "who", "date", "position"],
            ["C-01", "cover_seat", "bore", "52.41", "mm", "0.005", "M. Rao", "2026-01-10", ""],
        ],
        "builds": [
            ["build", "layout", "engine_maker", "engine", "label"],
            ["larger wheel", "plain", "Brackmoor", "B5", ""],
        ],
        "demands": [
            ["build", "seat", "feature", "type", "value", "value_to", "unit"],
            ["larger wheel", "wheel_seat", "exducer", "between", "52", "53", "mm"],
            ["larger wheel", "cover_seat", "", "keep", "", "", ""],
        ],
        "kits": [
            ["kit_maker", "kit", "maker", "number", "quantity", "one_time"],
            ["Quenby", "K 7", "Ostrel", "OS-100-3", "2", "yes"],
        ],
        "consumes": [["when", "maker", "number", "quantity"], ["always", "Ostrel", "OS-100-3", "2"]],
        "services": [["when", "operation"], ["wheel_seat", "wash"]],
        "stock": [["maker", "number", "place", "quantity"], ["Ostrel", "OS-100-3", "bin 4", "12"]],
        "prices": [
            ["maker", "number", "price", "currency", "as_of"],
            ["Ostrel", "OS-100-3", "4.20", "EUR", "2026-02-01"],
            ["Quenby", "0044", "210", "EUR", "2026-02-01"],
        ],
        "rates": [["name", "per_hour", "currency"], ["shop", "68", "EUR"]],
        "figures": [
            ["figure", "of", "percent", "price", "currency", "days", "as_of"],
            ["credit", "A", "100", "", "", "", "2026-01-01"],
            ["sublet", "wash", "", "40.50", "EUR", "", "2026-01-01"],
            ["credit", "C", "12.5 %", "", "", "", "2026-01-01"],
            ["validity", "", "", "", "", "", "2026-01-01"],
        ],
        "limits": [
            ["maker", "unit_or_part", "feature", "condition", "min", "max", "unit"],
            ["Ostrel", "OS-100-2", "bore", "used", "52.0", "54.5", "mm"],
        ],
        "weaknesses": [["maker", "unit_or_part", "text", "seen", "of"], ["Ostrel", "OT-1", "cover rubbed", "3", "9"]],
    }  # fmt: skip


def write_csv(book: Workbook, folder: Path) -> Path:
    """The workbook as a folder of CSV files, written by the standard library alone."""
    folder.mkdir(parents=True, exist_ok=True)
    for sheet, rows in book.items():
        with (folder / f"{sheet}.csv").open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows([[str(cell) for cell in row] for row in rows])
    return folder


def write_xlsx(book: Workbook, path: Path) -> Path:
    """The workbook as XLSX: numbers, dates and formulas as such, all else as text."""
    with xlsxwriter.Workbook(str(path)) as file:
        day = file.add_format({"num_format": "yyyy-mm-dd"})
        for sheet, rows in book.items():
            page = file.add_worksheet(sheet)
            for r, row in enumerate(rows):
                for c, cell in enumerate(row):
                    if isinstance(cell, Formula):
                        page.write_formula(r, c, cell)
                    elif isinstance(cell, str):
                        if cell:
                            page.write_string(r, c, cell)
                    elif isinstance(cell, date):
                        page.write_datetime(r, c, cell, day)
                    elif isinstance(cell, bool):
                        page.write_boolean(r, c, cell)
                    else:
                        page.write_number(r, c, cell)  # type: ignore[arg-type]
    return path
