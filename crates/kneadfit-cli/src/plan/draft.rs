//! Rows of a file to drafts: what is blank is left open, what is written stays.

use std::sync::Arc;

use kneadfit::batch::{Batch, Reading};
use kneadfit::charge::{Material, REST};
use kneadfit::planning::{Draft, DraftPhase, PlanError};
use kneadfit_log::Gaps;

/// Why a row cannot be planned.
#[derive(Debug, PartialEq)]
pub struct Refused {
    /// The column that it is about; `None`: the row as a whole.
    pub column: Option<String>,
    /// What was found, and what to write.
    pub words: String,
}

/// What the drafts of one file have in common.
pub struct Drafter<'a> {
    /// The machine's speeds.
    pub speeds: &'a [Arc<str>],
    /// Whether rest may be planned.
    pub rest: bool,
    /// Temperature of ice of which nothing is said, °C.
    pub ice_c: f64,
}

impl Drafter<'_> {
    /// The draft of a batch whose last row leaves `gaps`.
    pub fn draft(&self, batch: &Batch, gaps: &Gaps) -> Result<Draft, Refused> {
        let refuse = |column: &str, words: String| {
            Err(Refused { column: (!column.is_empty()).then(|| column.to_owned()), words })
        };
        let Some((last, over)) = batch.stages.split_last() else {
            return refuse("", "nothing to plan".into());
        };
        if last.reading != Reading::default() {
            return refuse(
                "dough_c",
                "the row is a reading, so that nothing is left to plan; add a row of the same \
                 batch with dough_c and what is ahead blank"
                    .into(),
            );
        }
        if over.iter().any(|stage| stage.reading == Reading::default()) {
            return refuse(
                "dough_c",
                "an earlier row of the batch has no reading; write what was read there, or \
                 leave that row away"
                    .into(),
            );
        }
        let mut draft = if over.is_empty() {
            self.new_dough(batch, gaps)
        } else {
            let begun = Batch { stages: over.to_vec(), ..batch.clone() };
            Draft::on_the_way(begun)
        };
        let ahead = |speed: &str| {
            last.phases.iter().filter(|p| *p.speed == *speed).map(|p| p.minutes).sum::<f64>()
        };
        draft.phases = self.phases(gaps, ahead)?;
        Ok(draft)
    }

    fn new_dough(&self, batch: &Batch, gaps: &Gaps) -> Draft {
        let mut charge = batch.charge.clone();
        let of = |wanted: Material| move |m: &Material| *m == wanted;
        let ice_kg = charge.mass_of_kg(of(Material::Ice));
        let water_kg = charge.mass_of_kg(of(Material::Water)) + ice_kg;
        let part = |wanted: Material| {
            batch.charge.ingredients.iter().find(|i| i.material == wanted).map(|i| i.temperature_c)
        };
        let (water_c, ice_c) = (part(Material::Water), part(Material::Ice));
        charge.ingredients.retain(|i| !matches!(i.material, Material::Water | Material::Ice));
        Draft {
            // Of ice alone there is no water whose temperature could be planned.
            water_c: if gaps.water_c { None } else { water_c },
            ice_kg: (!gaps.ice_kg).then_some(ice_kg),
            ice_c: ice_c.filter(|_| !gaps.ice_c).unwrap_or(self.ice_c),
            ..Draft::new(batch.id.clone(), charge, water_kg)
        }
    }

    /// Phases ahead in the order of the file's columns, or, where it has none, all speeds.
    fn phases(&self, gaps: &Gaps, ahead: impl Fn(&str) -> f64) -> Result<Vec<DraftPhase>, Refused> {
        let known = |speed: &str| self.speeds.iter().any(|s| **s == *speed);
        let open = |speed: &Arc<str>| DraftPhase { speed: speed.clone(), minutes: None };
        let mut phases: Vec<DraftPhase> = if gaps.minutes.is_empty() {
            self.speeds.iter().map(open).collect()
        } else {
            let mut phases = Vec::new();
            for cell in &gaps.minutes {
                let minutes = ahead(&cell.speed);
                match cell.total_min {
                    // Another machine's column.
                    None if !known(&cell.speed) && *cell.speed != *REST => {}
                    None if *cell.speed == *REST && !self.rest => {}
                    None => phases.push(open(&cell.speed)),
                    Some(_) if minutes > 0.0 || known(&cell.speed) => {
                        phases.push(DraftPhase { minutes: Some(minutes), ..open(&cell.speed) });
                    }
                    Some(_) => {}
                }
            }
            phases
        };
        if phases.iter().all(|p| *p.speed == *REST) {
            return Err(Refused {
                column: None,
                words: format!(
                    "none of the columns of minutes is of the machine's speeds, {}; head one \
                     minutes_{}, or leave all columns of minutes away",
                    self.speeds.join(", "),
                    self.speeds.first().map_or("low", |s| s)
                ),
            });
        }
        let has_rest_column = gaps.minutes.iter().any(|cell| *cell.speed == *REST);
        if self.rest && !has_rest_column {
            phases.insert(1, DraftPhase { speed: REST.into(), minutes: None });
        }
        Ok(phases)
    }
}

/// A refusal of the planner in the words and columns of the file.
pub fn refused(error: &PlanError, batch: &str) -> Refused {
    let column = match error {
        PlanError::UnknownSpeed { speed, .. }
        | PlanError::NoDevelopment { speed, .. }
        | PlanError::NoFlour { speed, .. } => Some(format!("minutes_{speed}")),
        PlanError::NoWater { .. } | PlanError::DryFlour { .. } => Some("water_kg".into()),
        PlanError::NothingToPlan { .. } | PlanError::NoTarget { .. } => Some("water_c".into()),
        PlanError::IceBeyondWater { .. } => Some("ice_kg".into()),
        _ => None,
    };
    let hint = match error {
        PlanError::NoTarget { .. } => "; say which, as --dough-c 24",
        PlanError::NothingToPlan { .. } => "; leave blank what is wanted",
        PlanError::NoWater { .. } | PlanError::DryFlour { .. } => "; write its mass into water_kg",
        _ => "",
    };
    let words = error.to_string();
    // Where it stands is said before it.
    let words = words.strip_prefix("batch ").filter(|w| w.starts_with(batch)).unwrap_or(&words);
    let words = words.strip_prefix(&format!("{batch}: ")).unwrap_or(words);
    Refused { column, words: format!("{words}{hint}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kneadfit_log::{ReadOptions, read_log};

    fn drafts(text: &str, rest: bool) -> Vec<Result<Draft, Refused>> {
        let read = read_log("plan.csv", "spiral", text.as_bytes(), &ReadOptions::planning());
        assert!(!read.has_errors(), "{:?}", read.problems);
        let speeds: Vec<Arc<str>> = vec!["low".into(), "high".into()];
        let drafter = Drafter { speeds: &speeds, rest, ice_c: -4.0 };
        let log = &read.machines[0];
        let batches = log.batches().iter().enumerate();
        batches
            .map(|(i, batch)| drafter.draft(batch, &read.gaps[*log.rows_of(i).last().unwrap()]))
            .collect()
    }

    fn phases(draft: &Draft) -> Vec<(&str, Option<f64>)> {
        draft.phases.iter().map(|p| (&*p.speed, p.minutes)).collect()
    }

    const DOUGH: &str = "batch,flour_kg,flour_c,water_kg,water_c,ice_kg,room_c";

    #[test]
    fn minutes_are_planned_where_they_are_blank_or_have_no_column_at_all() {
        let none = drafts(&format!("{DOUGH}\na,10,21,6.5,,,24\n"), false);
        assert_eq!(phases(none[0].as_ref().unwrap()), [("low", None), ("high", None)]);
        let low = drafts(&format!("{DOUGH},minutes_low\na,10,21,6.5,,,24,\n"), false);
        assert_eq!(phases(low[0].as_ref().unwrap()), [("low", None)]);
        let text =
            format!("{DOUGH},minutes_turbo,minutes_high,minutes_low\na,10,21,6.5,,,24,,,4\n");
        let turned = drafts(&text, false);
        assert_eq!(phases(turned[0].as_ref().unwrap()), [("high", None), ("low", Some(4.0))]);
        let other = drafts(&format!("{DOUGH},minutes_lo\na,10,21,6.5,,,24,\n"), false);
        assert!(other[0].as_ref().unwrap_err().words.contains("head one minutes_low"));
    }

    #[test]
    fn rest_is_planned_only_where_it_may_be() {
        let text = format!("{DOUGH},minutes_low,minutes_rest,minutes_high\na,10,21,6.5,,,24,,,\n");
        assert_eq!(phases(drafts(&text, false)[0].as_ref().unwrap()).len(), 2);
        assert_eq!(phases(drafts(&text, true)[0].as_ref().unwrap())[1], ("rest", None));
        let none = drafts(&format!("{DOUGH}\na,10,21,6.5,,,24\n"), true);
        assert_eq!(phases(none[0].as_ref().unwrap())[1], ("rest", None));
    }

    #[test]
    fn water_is_the_whole_formula_water() {
        let text = format!("{DOUGH}\na,10,21,6.5,,0.5,24\nb,10,21,6.5,12,,24\n");
        let drafts: Vec<Draft> = drafts(&text, false).into_iter().map(Result::unwrap).collect();
        let said = |d: &Draft| (d.water_kg, d.water_c, d.ice_kg, d.ice_c);
        assert_eq!(said(&drafts[0]), (6.5, None, Some(0.5), -4.0));
        assert_eq!(said(&drafts[1]), (6.5, Some(12.0), None, -4.0));
        assert_eq!(drafts[0].charge.mass_kg(), 10.0);
    }

    #[test]
    fn on_the_way_minutes_are_totals() {
        let head = format!("{DOUGH},minutes_low,minutes_high,dough_c");
        let text = format!("{head}\na,10,21,6.5,12,,24,4,,18\na,,,,,,,5,,\n");
        let drafts = drafts(&text, false);
        let draft = drafts[0].as_ref().unwrap();
        assert_eq!(phases(draft), [("low", Some(1.0)), ("high", None)]);
        assert_eq!((draft.so_far.len(), draft.charge.mass_kg()), (1, 16.5));
    }

    #[test]
    fn readings_last_or_missing_are_refused() {
        let head = format!("{DOUGH},minutes_low,dough_c");
        let read = drafts(&format!("{head}\na,10,21,6.5,12,,24,4,18\n"), false);
        assert!(read[0].as_ref().unwrap_err().words.contains("add a row"));
        let unread = drafts(&format!("{head}\na,10,21,6.5,12,,24,4,\na,,,,,,,8,\n"), false);
        assert!(unread[0].as_ref().unwrap_err().words.contains("earlier row"));
    }
}
