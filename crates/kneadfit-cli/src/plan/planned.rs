//! Rows to plans, each batch planned once, on its last row.

use kneadfit::planning::{CheckPoint, Draft, Plan, Planner, Wanted};
use kneadfit_log::{Gaps, LogRead, Outcome, RowRef};

use super::draft::{Drafter, Refused, refused};
use super::why::why;
use crate::plots::text::shortened;
use crate::problems::counted;
use crate::terminal::error;

/// Refusals on standard error beyond this are counted.
const MOST_SHOWN: usize = 20;

/// A dough as planned, with what is said of it.
pub struct Planned {
    /// What it was planned from.
    pub draft: Draft,
    pub plan: Plan,
    /// What to expect at the end of each phase ahead.
    pub check_points: Vec<CheckPoint>,
    /// Why it is as it is, a clause each.
    pub why: Vec<String>,
}

/// A row of the result.
pub struct Row {
    pub batch: Option<String>,
    pub machine: Option<String>,
    pub date: Option<String>,
    /// `None`: another machine's, at fault, or over.
    pub planned: Option<Planned>,
    /// Whether the row was read, and a later row of its batch is what is planned.
    pub over: bool,
}

/// Where a row that cannot be planned stands, and why.
struct RefusedRow {
    place: String,
    why: Refused,
}

/// Plans of the rows of a file.
pub struct Plans<'a> {
    planner: &'a Planner,
    wanted: &'a Wanted,
    drafter: Drafter<'a>,
    machine: &'a str,
    pub refused: Refusals,
}

/// Rows that cannot be planned.
#[derive(Default)]
pub struct Refusals(Vec<RefusedRow>);

impl Refusals {
    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl<'a> Plans<'a> {
    pub fn new(
        planner: &'a Planner,
        wanted: &'a Wanted,
        drafter: Drafter<'a>,
        machine: &'a str,
    ) -> Self {
        Self { planner, wanted, drafter, machine, refused: Refusals::default() }
    }

    /// Plans a row.
    pub fn row(&mut self, read: &LogRead, (row, gaps): (&RowRef, &Gaps)) -> Row {
        let mut planned = None;
        let mut over = false;
        if let Outcome::Used { machine, batch, stage } = row.outcome
            && **read.machines[machine].machine() == *self.machine
        {
            let batch = &read.machines[machine].batches()[batch];
            if stage + 1 < batch.stages.len() {
                over = true;
            } else {
                let draft = self.drafter.draft(batch, gaps);
                let named = |error| refused(&error, &batch.id);
                let done = draft.and_then(|d| self.plan(d).map_err(named));
                match done {
                    Ok(done) => planned = Some(done),
                    Err(why) => {
                        let source = &read.sources[row.source];
                        let batch = shortened(row.batch.as_deref().unwrap_or_default(), 60);
                        let place =
                            format!("{source}, line {} (row {}), batch {batch}", row.line, row.row);
                        self.refused.0.push(RefusedRow { place, why });
                    }
                }
            }
        }
        let text = |cell: &Option<std::sync::Arc<str>>| cell.as_deref().map(str::to_owned);
        Row {
            batch: text(&row.batch),
            machine: text(&row.machine),
            date: text(&row.date),
            planned,
            over,
        }
    }

    fn plan(&self, draft: Draft) -> Result<Planned, kneadfit::planning::PlanError> {
        let plan = self.planner.plan(&draft, self.wanted)?;
        let check_points = self.planner.check_points(&plan, self.wanted.level)?;
        let why = why(self.planner, &draft, self.wanted, &plan);
        Ok(Planned { draft, plan, check_points, why })
    }

    /// Says which rows cannot be planned, and why; `alone`: it is the dough of the command
    /// line, which has no line and column.
    pub fn say_refused(&self, alone: bool) {
        for RefusedRow { place, why } in self.refused.0.iter().take(MOST_SHOWN) {
            let column = why.column.as_ref().map(|c| format!(", column {c}")).unwrap_or_default();
            let words = &why.words;
            error(&match alone {
                true => format!("the dough: {words}"),
                false => format!("{place}{column}: {words}; the row has blank cells"),
            });
        }
        let more = self.refused.0.len().saturating_sub(MOST_SHOWN);
        if more > 0 {
            error(&format!("and {}", counted(more, "more such row", "more such rows")));
        }
    }
}
