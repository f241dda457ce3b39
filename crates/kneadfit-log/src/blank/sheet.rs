//! The empty log as a workbook.

use rust_xlsxwriter::{
    Color, DataValidation, DataValidationErrorStyle, DataValidationRule, DocProperties,
    ExcelDateTime, Format, FormatAlign, FormatBorder, Note, Workbook, Worksheet, XlsxError,
};

use super::columns::{BlankColumn, Example, Takes};
use crate::dates::DAYS_OF_A_SHEET;

/// What stands above all.
const TITLE: &str = "Kneading log: one row is one reading. Stop the mixer and let the hook come \
                     to rest before a probe, a scraper or a hand goes near it.";

/// Rows of the sheet, from 0.
const WORDS_ROW: u32 = 1;
const HEADER_ROW: u32 = 2;
const EXAMPLE_ROW: u32 = 3;

/// Rows with lines to write on: as many as fill one printed page.
const RULED_ROWS: u32 = 24;
/// Rows whose cells ask back.
const CHECKED_ROWS: u32 = 2000;

/// ISO 216's A4 among the paper sizes of the format.
const A4: u8 = 9;

pub(super) fn workbook(columns: &[BlankColumn]) -> Result<Vec<u8>, XlsxError> {
    let mut workbook = Workbook::new();
    // The same log must give the same bytes: no time of making is written.
    let made = ExcelDateTime::from_ymd(2000, 1, 1)?;
    workbook.set_properties(
        &DocProperties::new().set_title("Kneading log").set_creation_datetime(&made),
    );
    let sheet = workbook.add_worksheet();
    sheet.set_name("log")?;
    fill(sheet, columns)?;
    print_on_one_page(sheet, columns)?;
    workbook.save_to_buffer()
}

/// Where a cell of its row begins; a log has far fewer columns than a sheet.
fn place(index: usize) -> u16 {
    u16::try_from(index).unwrap_or(u16::MAX)
}

fn fill(sheet: &mut Worksheet, columns: &[BlankColumn]) -> Result<(), XlsxError> {
    let ruled = Format::new().set_border(FormatBorder::Thin);
    let words = ruled.clone().set_italic().set_text_wrap().set_align(FormatAlign::Top);
    let header =
        ruled.clone().set_bold().set_text_wrap().set_background_color(Color::RGB(0xEE_EE_EE));
    let example = ruled.clone().set_italic().set_font_color(Color::RGB(0x70_70_70));
    let day = "yyyy-mm-dd";
    sheet.write_with_format(0, 0, TITLE, &Format::new().set_bold())?;
    sheet.set_row_height(WORDS_ROW, 45)?;
    sheet.set_row_height(HEADER_ROW, 32)?;
    for (index, column) in columns.iter().enumerate() {
        let at = place(index);
        let said = match column.unit {
            "" => column.title.clone(),
            unit => format!("{}, {unit}", column.title),
        };
        sheet.write_with_format(WORDS_ROW, at, said, &words)?;
        sheet.write_with_format(HEADER_ROW, at, column.name.as_str(), &header)?;
        let note = Note::new(help(column)).add_author_prefix(false).set_width(260).set_height(110);
        sheet.insert_note(HEADER_ROW, at, &note)?;
        match &column.example {
            Example::Blank => sheet.write_blank(EXAMPLE_ROW, at, &example)?,
            Example::Text(text) => sheet.write_with_format(EXAMPLE_ROW, at, *text, &example)?,
            Example::Number(number) => {
                sheet.write_with_format(EXAMPLE_ROW, at, *number, &example)?
            }
            Example::Day(date) => {
                let format = example.clone().set_num_format(day);
                let (year, month, of_month) = (date.year(), date.month(), date.day());
                let date = ExcelDateTime::from_ymd(
                    year.unsigned_abs(),
                    month.unsigned_abs(),
                    of_month.unsigned_abs(),
                )?;
                sheet.write_with_format(EXAMPLE_ROW, at, &date, &format)?
            }
        };
        let empty = match column.takes {
            Takes::Day => ruled.clone().set_num_format(day),
            _ => ruled.clone(),
        };
        for row in EXAMPLE_ROW + 1..=EXAMPLE_ROW + RULED_ROWS {
            sheet.write_blank(row, at, &empty)?;
        }
        if let Some(check) = check(column)? {
            let last = EXAMPLE_ROW + CHECKED_ROWS;
            sheet.add_data_validation(EXAMPLE_ROW, at, last, at, &check)?;
        }
        sheet.set_column_width(at, width(column))?;
    }
    sheet.set_freeze_panes(HEADER_ROW + 1, 1)?;
    Ok(())
}

/// What to write, with the range in which the reader takes it.
fn help(column: &BlankColumn) -> String {
    match column.takes {
        Takes::Numbers(range) => {
            format!("{} {}", column.help, range_in_words(column, range.least, range.most))
        }
        _ => column.help.clone(),
    }
}

fn range_in_words(column: &BlankColumn, least: f64, most: f64) -> String {
    let unit = match column.unit {
        "" | "0–1" => String::new(),
        unit => format!(" {unit}"),
    };
    format!("{least} to {most}{unit}.")
}

/// What the cells of a column take; `None`: anything.
fn check(column: &BlankColumn) -> Result<Option<DataValidation>, XlsxError> {
    let check =
        DataValidation::new().set_error_title(column.name.chars().take(32).collect::<String>())?;
    Ok(match column.takes {
        Takes::Text => None,
        Takes::Day => {
            let (first, last) = DAYS_OF_A_SHEET;
            let [first, last] = [first, last].map(ExcelDateTime::from_serial_datetime);
            let rule = DataValidationRule::Between(first?, last?);
            Some(check.allow_date(rule).set_error_message("A day, as 2026-03-14.")?)
        }
        Takes::Numbers(range) => {
            let rule = DataValidationRule::Between(range.least, range.most);
            let within = range_in_words(column, range.least, range.most);
            let (style, more) = match range.binding {
                true => (DataValidationErrorStyle::Stop, ""),
                false => (
                    DataValidationErrorStyle::Warning,
                    " Beyond that the reader of the log doubts the row or sets it aside.",
                ),
            };
            let check = check.allow_decimal_number(rule).set_error_style(style);
            Some(check.set_error_message(format!("{within}{more}"))?)
        }
    })
}

/// The width of a column, characters.
fn width(column: &BlankColumn) -> f64 {
    match column.name.as_str() {
        "batch" => 18.0,
        "note" => 34.0,
        "date" | "flour" | "machine" => 12.0,
        _ => 9.0,
    }
}

fn print_on_one_page(sheet: &mut Worksheet, columns: &[BlankColumn]) -> Result<(), XlsxError> {
    let last = place(columns.len().saturating_sub(1));
    sheet.set_paper_size(A4).set_landscape().set_print_fit_to_pages(1, 0);
    sheet.set_margins(0.4, 0.4, 0.5, 0.5, 0.3, 0.3);
    sheet.set_repeat_rows(WORDS_ROW, HEADER_ROW)?;
    sheet.set_print_area(0, 0, EXAMPLE_ROW + RULED_ROWS, last)?;
    Ok(())
}
