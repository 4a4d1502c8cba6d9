"""Makes the workbooks of this folder. Needs openpyxl, xlwt and LibreOffice (soffice); see README.md."""

import datetime
import pathlib
import struct
import subprocess
import tempfile
import zipfile

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


class Records:
    """The records of one part of an .xlsb, by MS-XLSB 2.1.4."""

    def __init__(self):
        self.bytes = b""

    def add(self, kind, layout="", *values):
        data = b"".join(
            struct.pack("<I", len(value)) + value.encode("utf-16-le") if letter == "S" else struct.pack("<" + letter, value)
            for letter, value in zip(layout, values)
        )
        for number in (kind, len(data)):
            while number > 0x7F:
                self.bytes += bytes([number & 0x7F | 0x80])
                number >>= 7
            self.bytes += bytes([number])
        self.bytes += data
        return self


def binary():
    """The cells of traps() by hand, as no library at hand writes number formats into an .xlsb."""
    codes = [None, "0.0%", '0.0"%"', '#,##0" mg/kg"', "dd/mm/yyyy", "@", "0.0", "0.00", "h:mm", '[<50]"< 50";0', ";;;", "mmm-yy", "d mmm yyyy"]
    styles = Records().add(278)
    styles.add(615, "I", len(codes) - 1)
    for number, code in enumerate(codes[1:], 164):
        styles.add(44, "HS", number, code)
    styles.add(616).add(611, "I", 2)
    for raised in (0, 1):
        styles.add(43, "HHHHBBBBBBhBBBBBS", 220, 0, 400, raised, 0, 2, 0, 0, 7, 1, 0, 0, 0, 0, 255, 2, "Calibri")
    styles.add(612).add(603, "I", 2)
    for pattern in (0, 17):
        styles.add(45, "I" + "I" * 4 + "I" * 12, pattern, 3, 64, 3, 65, *[0] * 12)
    styles.add(604).add(613, "I", 1).add(46, "B" + "HII" * 5, 0, *[0] * 15).add(614)
    styles.add(626, "I", 1).add(47, "HHHHHBBHH", 0xFFFF, 0, 0, 0, 0, 0, 0, 0x10, 0).add(627)
    styles.add(617, "I", len(codes))
    for index, code in enumerate(codes):
        styles.add(47, "HHHHHBBHH", 0, 163 + index if code else 0, 0, 0, 0, 0, 0, 0x10, 1)
    styles.add(618).add(279)

    strings = []

    def shared(text):
        strings.append(text)
        return len(strings) - 1

    rows = [
        (3, "moisture", 0.473, 1),
        (4, "whole beads", 92, 2),
        (5, "iron", 6200, 3),
        (6, "sampled", 45717 + 14.5 / 24, 4),
        (7, "number as text", "12.5", 5),
        (8, "formula", ("C4+1", 93.0), 6),
        (9, "capacity", 1.41666, 7),
        (10, "merged", None, 0),
        (11, "flag", True, 0),
        (12, "error", "#N/A", 0),
        (13, "density", "raised", 0),
        (14, "in a hidden row", 99, 0),
        (15, "time", 14.5 / 24, 8),
        (16, "manganese", 40, 9),
        (17, "shown by nothing", 5, 10),
        (18, "general", 37.6, 0),
        (19, "month", 42491, 11),
        (20, "installed", 42507, 12),
    ]
    sheet = Records().add(129).add(148, "IIII", 2, 19, 1, 5).add(133)
    sheet.add(137, "HIIIHHHHHHI", 0x3DC, 0, 0, 0, 64, 0, 100, 0, 0, 0, 0)
    sheet.add(138).add(134).add(485, "IHHBBH", 0xFFFFFFFF, 8, 300, 0, 0, 0)
    sheet.add(390).add(60, "IIIIH", 5, 5, 3328, 0, 1).add(391).add(145)
    for row, label, value, style in rows:
        hidden = 0x10 if row == 14 else 0
        sheet.add(0, "IIHBBBIII", row - 1, 0, 300, 0, hidden, 0, 1, 1, 5)
        sheet.add(7, "III", 1, 0, shared(label))
        if value is True:
            sheet.add(4, "IIB", 2, style, 1)
        elif value == "#N/A":
            sheet.add(3, "IIB", 2, style, 0x2A)
        elif isinstance(value, str):
            sheet.add(7, "III", 2, style, shared(value))
        elif isinstance(value, tuple):
            # The tokens of C4+1: a relative reference, an integer, a sum.
            tokens = struct.pack("<BIHBHB", 0x44, 3, 0xC002, 0x1E, 1, 0x03)
            sheet.add(9, "IIdHI" + "B" * len(tokens) + "I", 2, style, value[1], 0, len(tokens), *tokens, 0)
        elif isinstance(value, int):
            sheet.add(2, "III", 2, style, value << 2 | 2)
        elif value is not None:
            sheet.add(5, "IId", 2, style, value)
        if row == 3:
            sheet.add(7, "III", 5, 0, shared("in a hidden column"))
    sheet.add(146).add(177, "I", 1).add(176, "IIII", 9, 9, 1, 3).add(178).add(130)

    def small(*values):
        records = Records().add(129).add(148, "IIII", 0, 0, 0, 1).add(145).add(0, "IIHBBBIII", 0, 0, 300, 0, 0, 0, 1, 0, 1)
        for column, value in enumerate(values):
            if isinstance(value, str):
                records.add(7, "III", column, 0, shared(value))
            else:
                records.add(2, "III", column, 0, value << 2 | 2)
        return records.add(146).add(130)

    sheets = [("Results", 0, sheet), ("Calc", 1, small(1)), ("Empty", 0, small()), ("Second core", 0, small("iron", 50))]
    table = Records().add(159, "II", len(strings), len(strings))
    for text in strings:
        if text == "raised":
            table.add(19, "BSIHHHH", 1, "0.8 g/cm3 & <1", 2, 8, 1, 9, 0)
        else:
            table.add(19, "BS", 0, text)
    table.add(160)
    book = Records().add(131).add(153, "IIS", 0, 0, "").add(143)
    for number, (name, state, _) in enumerate(sheets, 1):
        book.add(156, "IISS", state, number, f"rId{number}", name)
    book.add(144).add(132)

    schema = "http://schemas.openxmlformats.org"
    excel = "application/vnd.ms-excel"
    targets = [(f"worksheets/sheet{n}.bin", "worksheet") for n in range(1, 5)] + [("styles.bin", "styles"), ("sharedStrings.bin", "sharedStrings")]
    office = f"{schema}/officeDocument/2006/relationships"
    rels = "".join(f'<Relationship Id="rId{n}" Type="{office}/{kind}" Target="{target}"/>' for n, (target, kind) in enumerate(targets, 1))
    head = f'<Relationships xmlns="{schema}/package/2006/relationships">'
    kinds = "".join(f'<Override PartName="/xl/{target}" ContentType="{excel}.{kind}"/>' for target, kind in targets)
    with zipfile.ZipFile(HERE / "traps.xlsb", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            "[Content_Types].xml",
            f'<Types xmlns="{schema}/package/2006/content-types"><Default Extension="bin" ContentType="{excel}.sheet.binary.macroEnabled.main"/>'
            f'<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>{kinds}</Types>',
        )
        archive.writestr("_rels/.rels", f'{head}<Relationship Id="rId1" Type="{office}/officeDocument" Target="xl/workbook.bin"/></Relationships>')
        archive.writestr("xl/_rels/workbook.bin.rels", f"{head}{rels}</Relationships>")
        archive.writestr("xl/workbook.bin", book.bytes)
        archive.writestr("xl/styles.bin", styles.bytes)
        archive.writestr("xl/sharedStrings.bin", table.bytes)
        for number, (_, _, records) in enumerate(sheets, 1):
            archive.writestr(f"xl/worksheets/sheet{number}.bin", records.bytes)


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
    binary()
    converted()
