//! Workbooks put together by hand, for what the writer of the tests does not write.

use crate::dresses::cells;
use crate::sheets_refused::repacked;

const ODS: &[u8] = include_bytes!("made-by-libreoffice/kitchen.ods");

/// An .ods with one sheet of this name, made of these rows of cells as they stand in the file.
pub fn ods(name: &str, rows: &[Vec<String>]) -> Vec<u8> {
    let rows: String = rows
        .iter()
        .map(|cells| format!("<table:table-row>{}</table:table-row>", cells.concat()))
        .collect();
    repacked(ODS, "content.xml", |xml| {
        let text = String::from_utf8(xml).unwrap();
        let start = text.find("<table:table ").unwrap();
        let end = text.rfind("</table:table>").unwrap();
        let head = format!("<table:table table:name=\"{name}\">");
        format!("{}{head}{rows}{}", &text[..start], &text[end..]).into_bytes()
    })
}

/// A cell of an .ods as LibreOffice writes a number or a text; `more`: further attributes.
pub fn ods_cell(value: &str, more: &str) -> String {
    if value.is_empty() {
        return format!("<table:table-cell {more}/>");
    }
    match value.parse::<f64>() {
        Ok(_) => format!(
            "<table:table-cell {more} office:value-type=\"float\" office:value=\"{value}\"><text:p>{value}</text:p></table:table-cell>"
        ),
        Err(_) => format!(
            "<table:table-cell {more} office:value-type=\"string\"><text:p>{value}</text:p></table:table-cell>"
        ),
    }
}

/// The canonical log as rows of an .ods.
pub fn ods_rows() -> Vec<Vec<String>> {
    cells().iter().map(|row| row.iter().map(|cell| ods_cell(cell, "")).collect()).collect()
}
