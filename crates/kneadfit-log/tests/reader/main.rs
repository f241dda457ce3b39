//! The reader from outside: what bakers write, what goes wrong, what always holds.

mod blank;
mod charges;
mod columns;
mod doubts;
mod dresses;
mod equals;
mod files;
mod formula;
mod formula_cells;
mod later_rows;
mod merged_cells;
mod other_scale;
mod planning;
mod properties;
mod roundtrip;
mod rows;
mod sheets;
mod sheets_refused;
mod summary;
mod support;
mod tidy;
mod typed_times;
mod units_row;
mod workbooks;
