//! Workbooks that would take more memory than a log may, and damaged ones: refused and said.

use std::io::{Cursor, Read, Write};

use kneadfit_log::{LogRead, ProblemKind, ReadOptions, limits, read_log};
use rust_xlsxwriter::Workbook;
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

use crate::support::{assert_accounted, only};

fn read(bytes: &[u8]) -> LogRead {
    let read = read_log("kitchen.xlsx", "spiral", bytes, &ReadOptions::default());
    assert_accounted(&read);
    read
}

fn assert_too_large(bytes: &[u8], what: &str) {
    let read = read(bytes);
    assert!(read.is_empty());
    match &only(&read).kind {
        ProblemKind::TooLarge { what: said, .. } => assert_eq!(*said, what),
        _ => panic!("{}", only(&read)),
    }
    assert!(only(&read).hint().unwrap().contains("CSV"));
}

/// A zip with one of its parts changed.
pub fn repacked(bytes: &[u8], name: &str, change: impl FnOnce(Vec<u8>) -> Vec<u8>) -> Vec<u8> {
    let mut from = ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut into = ZipWriter::new(Cursor::new(Vec::new()));
    let mut change = Some(change);
    for index in 0..from.len() {
        let mut part = from.by_index(index).unwrap();
        let part_name = part.name().unwrap().into_owned();
        let mut data = Vec::new();
        part.read_to_end(&mut data).unwrap();
        if part_name == name {
            data = change.take().unwrap()(data);
        }
        into.start_file(part_name, SimpleFileOptions::default()).unwrap();
        into.write_all(&data).unwrap();
    }
    assert!(change.is_none(), "no part {name}");
    into.finish().unwrap().into_inner()
}

fn small() -> Vec<u8> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    for (column, name) in ["batch", "room_c", "dough_c"].into_iter().enumerate() {
        sheet.write_string(0, column as u16, name).unwrap();
    }
    book.save_to_buffer().unwrap()
}

const ODS: &[u8] = include_bytes!("made-by-libreoffice/kitchen.ods");
const XLS: &[u8] = include_bytes!("made-by-libreoffice/kitchen.xls");
const XLSX: &[u8] = include_bytes!("made-by-libreoffice/kitchen.xlsx");

#[test]
fn a_bomb_is_refused_by_what_it_says_of_itself_and_by_what_comes_out() {
    let zeros = vec![b' '; 1 << 20];
    let mut into = ZipWriter::new(Cursor::new(Vec::new()));
    into.start_file("xl/workbook.xml", SimpleFileOptions::default()).unwrap();
    for _ in 0..=limits::UNPACKED_BYTES >> 20 {
        into.write_all(&zeros).unwrap();
    }
    let bomb = into.finish().unwrap().into_inner();
    assert!(bomb.len() < 1 << 20, "{} bytes", bomb.len());
    assert_too_large(&bomb, "bytes of an unpacked workbook");

    // The same where both places that state the size lie: it stands four bytes long.
    let size = (((limits::UNPACKED_BYTES >> 20) + 1) << 20) as u32;
    let mut liar = bomb.clone();
    let places: Vec<usize> =
        (0..liar.len() - 4).filter(|at| liar[*at..at + 4] == size.to_le_bytes()).collect();
    assert!(!places.is_empty());
    for at in places {
        liar[at..at + 4].copy_from_slice(&1000_u32.to_le_bytes());
    }
    let read = read(&liar);
    assert!(read.is_empty() && read.has_errors(), "{:?}", read.problems);
}

#[test]
fn a_sheet_of_a_million_columns_is_refused() {
    let far = repacked(&small(), "xl/worksheets/sheet1.xml", |xml| {
        let row = "<row r=\"9\"><c r=\"BDWGN9\"><v>1</v></c></row></sheetData>";
        String::from_utf8(xml).unwrap().replace("</sheetData>", row).into_bytes()
    });
    let said = read(&far);
    assert!(said.is_empty() && said.has_errors(), "{:?}", said.problems);
    let wide = repacked(&small(), "xl/worksheets/sheet1.xml", |xml| {
        let row = "<row r=\"9\"><c r=\"XFD9\"><v>1</v></c></row></sheetData>";
        String::from_utf8(xml).unwrap().replace("</sheetData>", row).into_bytes()
    });
    assert_too_large(&wide, "columns of a sheet");
}

#[test]
fn a_few_bytes_of_an_ods_that_stand_for_millions_of_cells_are_refused() {
    let with = |rows: &str| {
        repacked(ODS, "content.xml", |xml| {
            let text = String::from_utf8(xml).unwrap();
            let at = text.find("<table:table-row").unwrap();
            format!("{}{rows}{}", &text[..at], &text[at..]).into_bytes()
        })
    };
    let cell = |repeats: u64| {
        format!(
            "<table:table-cell office:value-type=\"float\" office:value=\"1\" \
             table:number-columns-repeated=\"{repeats}\"/>"
        )
    };
    let row = |repeats: u64, cells: &str| {
        format!(
            "<table:table-row table:number-rows-repeated=\"{repeats}\">{cells}</table:table-row>"
        )
    };
    assert_too_large(&with(&row(1, &cell(1_000_000))), "columns of a sheet");
    assert_too_large(&with(&row(1_000_000, &cell(1000))), "cells of a sheet");
    assert_too_large(&with(&row(u64::MAX, &cell(1))), "rows of a sheet");
    assert_too_large(&with(&row(1, &cell(1000)).repeat(5000)), "cells of a sheet");
    let spaces = "<table:table-cell office:value-type=\"string\"><text:p><text:s text:c=\"4000000000\"/></text:p></table:table-cell>";
    assert_too_large(&with(&row(1, spaces)), "blanks in a row");
}

#[test]
fn what_is_no_workbook_is_said() {
    for bytes in
        [&b"PK\x03\x04"[..], b"PK\x03\x04 and no more", b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1 no"]
    {
        let read = read(bytes);
        assert!(matches!(only(&read).kind, ProblemKind::NoWorkbook { .. }), "{}", only(&read));
        assert_eq!(only(&read).consequence(), "nothing of the file is used");
        assert!(only(&read).hint().unwrap().contains("save it anew"));
        assert!(read.is_empty());
    }
}

#[test]
fn workbooks_cut_or_changed_anywhere_do_not_panic() {
    for (name, bytes) in [("xlsx", XLSX), ("xls", XLS), ("ods", ODS)] {
        for part in 1..24 {
            let cut = bytes.len() * part / 24;
            let read = read(&bytes[..cut]);
            assert!(read.has_errors(), "{name} cut at {cut} is read as a whole");
        }
        for at in (0..bytes.len()).step_by(bytes.len() / 60) {
            let mut changed = bytes.to_vec();
            changed[at] ^= 0x5A;
            let _ = read(&changed);
        }
    }
}

#[test]
fn a_locked_workbook_and_one_without_a_cell_say_what_to_do() {
    let mut locked = cfb::CompoundFile::create(Cursor::new(Vec::new())).unwrap();
    // The stream in which a workbook with a password lies ([MS-OFFCRYPTO] 2.3.4.4).
    locked.create_stream("/EncryptedPackage").unwrap().write_all(b"secret").unwrap();
    locked.flush().unwrap();
    let mut bare = Workbook::new();
    bare.add_worksheet();
    for (bytes, hint) in [
        (locked.into_inner().into_inner(), "without the password"),
        (bare.save_to_buffer().unwrap(), "the log in it"),
    ] {
        let read = read(&bytes);
        assert!(only(&read).hint().unwrap().contains(hint), "{}", only(&read));
        assert_eq!(only(&read).consequence(), "nothing of the file is used");
    }
}
