"""Makes the workbooks of this folder. Needs openpyxl, xlwt and LibreOffice (soffice); see README.md."""

import datetime
import pathlib
import subprocess
import tempfile

import openpyxl
import xlwt
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.utils.datetime import CALENDAR_MAC_1904

HERE = pathlib.Path(__file__).parent


def traps():
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Results"
    raised = CellRichText("0.8 g/cm", TextBlock(InlineFont(vertAlign="superscript"), "3"), " & <1")
    rows = [
        (3, "moisture", 0.473, "0.0%"),
        (4, "whole beads", 92, '0.0"%"'),
        (5, "iron", 6200, '#,##0" mg/kg"'),
        (6, "sampled", datetime.datetime(2025, 3, 1, 14, 30), "dd/mm/yyyy"),
        (7, "number as text", "12.5", "@"),
        (8, "formula", "=C4+1", "0.0"),
        (9, "capacity", 1.41666, "0.00"),
        (11, "flag", True, "General"),
        (12, "error", "#N/A", "General"),
        (13, "density", raised, "General"),
        (14, "in a hidden row", 99, "General"),
        (15, "time", datetime.time(14, 30), "h:mm"),
        (16, "manganese", 40, '[<50]"< 50";0'),
        (17, "shown by nothing", 5, ";;;"),
        (18, "general", 37.6, "General"),
        (19, "month", datetime.datetime(2016, 5, 1), "mmm-yy"),
        (20, "installed", datetime.date(2016, 5, 17), "d mmm yyyy"),
    ]
    for row, label, value, code in rows:
        sheet.cell(row, 2, label)
        sheet.cell(row, 3, value).number_format = code
    sheet["B10"] = "merged"
    sheet.merge_cells("B10:D10")
    sheet["F3"] = "in a hidden column"
    sheet.row_dimensions[14].hidden = True
    sheet.column_dimensions["F"].hidden = True
    book.create_sheet("Calc")["A1"] = 1
    book["Calc"].sheet_state = "hidden"
    book.create_sheet("Empty")
    second = book.create_sheet("Second core")
    second["A1"], second["B1"] = "iron", 50
    book.save(HERE / "traps.xlsx")


def from_1904():
    book = openpyxl.Workbook()
    book.epoch = CALENDAR_MAC_1904
    cell = book.active["A1"]
    cell.value = datetime.datetime(2025, 3, 1)
    cell.number_format = "yyyy-mm-dd"
    book.save(HERE / "epoch1904.xlsx")


def old_writer():
    book = xlwt.Workbook()
    sheet = book.add_sheet("Results")
    rows = [("moisture", 0.473, "0.0%"), ("iron", 6200, '0" mg/kg"'), ("beads", 92, "General")]
    for row, (label, value, code) in enumerate(rows):
        sheet.write(row, 0, label)
        sheet.write(row, 1, value, xlwt.easyxf(num_format_str=code))
    sheet.write(3, 0, "formula")
    sheet.write(3, 1, xlwt.Formula("B3+1"))
    sheet.write(4, 0, "in a hidden row")
    sheet.row(4).hidden = True
    sheet.write(0, 3, "in a hidden column")
    sheet.col(3).hidden = True
    raised = xlwt.easyfont("escapement superscript")
    sheet.write_rich_text(5, 0, ["0.8 g/cm", ("3", raised), " dry"])
    sheet.write_merge(6, 7, 0, 2, "merged")
    hidden = book.add_sheet("Calc")
    hidden.write(0, 0, 1)
    hidden.visibility = 1
    book.save(str(HERE / "xlwt.xls"))


def converted():
    for name, target in (("traps", "xls"), ("traps", "ods"), ("epoch1904", "xls"), ("epoch1904", "ods")):
        convert(HERE / f"{name}.xlsx", target, HERE)
    with tempfile.TemporaryDirectory() as folder:
        convert(HERE / "traps.ods", "xlsx", folder)
        (pathlib.Path(folder) / "traps.xlsx").rename(HERE / "resaved.xlsx")


def convert(source, target, folder):
    subprocess.run(["soffice", "--headless", "--convert-to", target, "--outdir", folder, source], check=True)


if __name__ == "__main__":
    traps()
    from_1904()
    old_writer()
    converted()
