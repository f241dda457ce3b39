//! The same mistake in many rows or columns, said once.

use std::collections::HashMap;
use std::mem::{Discriminant, discriminant};

use kneadfit_log::{Problem, ProblemKind, Severity};

use crate::plots::text::shortened;

/// So many of one mistake are still said one by one: each has a hint of its own.
const FEW: usize = 3;
/// Places that are named of a group, beside the first.
const MOST_PLACES: usize = 5;
/// The same where each has a hint of its own.
const MOST_HINTS: usize = 3;

/// Problems of one kind in one column of one file, or of one kind in many of its columns.
pub struct Group<'a> {
    /// The first of them.
    pub first: &'a Problem,
    /// The others, in the order of the log.
    pub others: Vec<&'a Problem>,
}

type Key<'a> = (Severity, &'a str, Option<usize>, Discriminant<ProblemKind>);

fn key(problem: &Problem) -> Key<'_> {
    // Of a row, the column tells one mistake from another; of the whole column, it does not.
    let column = problem.column.as_ref().filter(|_| problem.place.is_some());
    let column = column.map(|column| column.number);
    (problem.severity, &problem.source, column, discriminant(&problem.kind))
}

/// Problems in their order, those that are many of a kind together where the first is.
pub fn grouped<'a>(problems: impl IntoIterator<Item = &'a Problem>) -> Vec<Group<'a>> {
    let problems: Vec<&Problem> = problems.into_iter().collect();
    let mut of_kind: HashMap<Key<'_>, Vec<&Problem>> = HashMap::new();
    for problem in &problems {
        // What is of the whole file has something of its own to say.
        if is_of_many(problem) {
            of_kind.entry(key(problem)).or_default().push(problem);
        }
    }
    let mut groups = Vec::new();
    for first in problems {
        match of_kind.get_mut(&key(first)) {
            Some(many) if is_of_many(first) && many.len() > FEW => {
                groups.push(Group { first, others: many.split_off(1) });
                many.clear();
            }
            // Said with the first of its group.
            Some(said) if is_of_many(first) && said.is_empty() => {}
            _ => groups.push(Group { first, others: Vec::new() }),
        }
    }
    groups
}

/// Whether it is of a row or a column, of which there are many.
fn is_of_many(problem: &Problem) -> bool {
    problem.place.is_some() || problem.column.is_some()
}

impl Group<'_> {
    /// How many problems it stands for.
    pub fn count(&self) -> usize {
        1 + self.others.len()
    }

    /// Of what there are so many.
    pub fn of_what(&self) -> &'static str {
        if self.first.place.is_some() { "rows" } else { "columns" }
    }

    /// What is said of it, each with its name.
    pub fn parts(&self) -> Vec<(&'static str, String)> {
        let first = self.first;
        let mut parts = vec![("found", first.found_in_words()), ("expected", first.expected())];
        parts.extend(first.hint().map(|hint| ("hint", hint)));
        parts.push(("so", first.consequence().to_owned()));
        parts.extend(self.also().map(|also| ("also", also)));
        parts
    }

    /// Where else, and what was found there; `None`: nowhere.
    fn also(&self) -> Option<String> {
        // The first one's hint is that of all, or of itself alone.
        let hint = self.first.hint();
        let alike = self.others.iter().all(|problem| problem.hint() == hint);
        let (most, between) = if alike { (MOST_PLACES, ", ") } else { (MOST_HINTS, "; ") };
        let places: Vec<String> = self
            .others
            .iter()
            .take(most)
            .filter_map(|problem| {
                let hint = problem.hint().filter(|_| !alike);
                let hint = hint.map(|hint| format!(": {hint}")).unwrap_or_default();
                Some(format!("{}{hint}", place(problem)?))
            })
            .collect();
        let more = self.others.len().saturating_sub(places.len());
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        (!places.is_empty()).then(|| format!("{}{more}", places.join(between)))
    }
}

/// Where a problem of a group is, and what was found there.
fn place(problem: &Problem) -> Option<String> {
    let Some(place) = problem.place else {
        return problem.column.as_ref().map(|column| shortened(&column.name, 40));
    };
    let line = place.line;
    let what = if problem.sheet.is_some() { "row" } else { "line" };
    Some(match &problem.found {
        Some(found) => format!("{what} {line} ({found})"),
        None => format!("{what} {line}"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use kneadfit_log::{ReadOptions, read_log};

    #[test]
    fn many_of_a_kind_are_one_group_and_few_are_not() {
        let mut text = "batch,other_kg,other_c,other_kj_per_kg_k,room_c,dough_c\n".to_owned();
        for row in 0..9 {
            text.push_str(&format!("{row},1,cold{row},3,20,20\n"));
        }
        text.push_str("x,ten,20,3,20,20\ny,nine,20,3,20,20\n");
        let read = read_log("log.csv", "spiral", text.as_bytes(), &ReadOptions::default());
        let groups = grouped(&read.problems);
        let counts: Vec<usize> = groups.iter().map(Group::count).collect();
        assert_eq!(counts, [9, 1, 1]);
        assert_eq!(counts.iter().sum::<usize>(), read.problems.len());
        let parts = groups[0].parts();
        let also = &parts.iter().find(|(name, _)| *name == "also").unwrap().1;
        assert!(also.starts_with("line 3 (cold1), line 4 (cold2)"), "{also}");
        assert!(also.ends_with("and 3 more"), "{also}");
    }

    #[test]
    fn each_row_of_a_group_keeps_its_own_hint() {
        let mut text = "batch,flour_kg,flour_c,water_kg,water_c,room_c,dough_c\n".to_owned();
        for row in 0..9 {
            text.push_str(&format!("{row},10,7{row},6.5,12,23,22.{row}\n"));
        }
        let read = read_log("log.csv", "spiral", text.as_bytes(), &ReadOptions::default());
        let groups = grouped(&read.problems);
        assert_eq!(groups.iter().map(Group::count).collect::<Vec<_>>(), [9]);
        let parts = groups[0].parts();
        let of = |name: &str| &parts.iter().find(|(part, _)| *part == name).unwrap().1;
        assert!(of("hint").starts_with("70 °F is 21.1 °C"));
        assert!(
            of("also").starts_with("line 3 (71): 71 °F is 21.7 °C: write 21.7"),
            "{}",
            of("also")
        );
        assert!(of("also").ends_with("if it was read in °F and 5 more"), "{}", of("also"));
    }

    #[test]
    fn a_slip_in_many_columns_is_one_group_that_names_them() {
        let speeds: Vec<String> = (0..200).map(|i| format!("minutes_s{i}")).collect();
        let blanks = ",".repeat(200);
        let text = format!(
            "batch,flour_kg,flour_c,water_kg,water_c,room_c,dough_c,{}\na,10,21,6.5,12,23,22{blanks}\n",
            speeds.join(",")
        );
        let read = read_log("log.csv", "spiral", text.as_bytes(), &ReadOptions::default());
        let groups = grouped(&read.problems);
        assert_eq!(groups.iter().map(Group::count).collect::<Vec<_>>(), [200]);
        let parts = groups[0].parts();
        let also = &parts.iter().find(|(name, _)| *name == "also").unwrap().1;
        assert!(also.starts_with("minutes_s1, minutes_s2") && also.ends_with("and 194 more"));
    }
}
