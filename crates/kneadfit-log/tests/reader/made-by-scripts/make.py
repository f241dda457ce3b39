"""Writes the workbooks of this folder anew: the canonical log of dresses.rs by libraries that
store a formula and never its value (made with openpyxl 3.1.5 and xlwt 1.3.0 from PyPI).
The water of batch 1 is a formula, the cells of batch 3 are merged over its readings."""

import csv
import datetime
import pathlib
import re

import openpyxl
import xlwt

here = pathlib.Path(__file__).parent
text = re.search(r'CANONICAL: &str = "\\\n(.*?)";', (here / "../dresses.rs").read_text(), re.S)
rows = list(csv.reader(text.group(1).splitlines()))


def value(cell):
    if re.fullmatch(r"\d{4}-\d\d-\d\d", cell):
        return datetime.date.fromisoformat(cell)
    try:
        return float(cell)
    except ValueError:
        return cell or None


merged = [i for i, row in enumerate(rows) if row[0] == "3"]
table = [[value(cell) if down else cell for cell in row] for down, row in enumerate(rows)]
for row in merged[1:]:
    table[row][0] = None

book = openpyxl.Workbook()
sheet = book.active
for row in table:
    sheet.append(row)
sheet["G2"] = "=E2*0.65"
sheet.merge_cells(f"A{merged[0] + 1}:A{merged[-1] + 1}")
book.save(here / "openpyxl.xlsx")

book = xlwt.Workbook(encoding="utf-8")
sheet = book.add_sheet("Log")
day = xlwt.easyxf(num_format_str="DD/MM/YYYY")
for down, row in enumerate(table):
    for right, cell in enumerate(row):
        if (down, right) == (1, 6):
            sheet.write(down, right, xlwt.Formula("E2*0.65"))
        elif right == 0 and down in merged:
            pass
        elif isinstance(cell, datetime.date):
            sheet.write(down, right, cell, day)
        elif cell is not None:
            sheet.write(down, right, cell)
sheet.write_merge(merged[0], merged[-1], 0, 0, table[merged[0]][0])
book.save(here / "xlwt.xls")
