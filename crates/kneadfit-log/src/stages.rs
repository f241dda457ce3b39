//! Development in the baker's own words: names of stages for grades.

use std::sync::Arc;

use thiserror::Error;

/// Names of stages of development and the grade that each stands for.
///
/// # Examples
///
/// ```
/// use kneadfit_log::StageScale;
///
/// let scale: StageScale = "short=0.3, improved=0.7, intense=1".parse()?;
/// assert_eq!(scale.grade("Improved"), Some(0.7));
///
/// // Names alone divide the way to full development evenly; the last is full.
/// let thirds: StageScale = "short,improved,intense".parse()?;
/// assert_eq!(thirds.grade("short"), Some(1.0 / 3.0));
/// assert_eq!(thirds.grade("intense"), Some(1.0));
/// # Ok::<(), kneadfit_log::StageScaleError>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StageScale(Arc<[(String, f64)]>);

/// Why a scale of stages cannot be used.
#[derive(Clone, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum StageScaleError {
    /// A stage without a name.
    #[error("a stage without a name; write them as short=0.3,improved=0.7,intense=1")]
    NoName,
    /// A name that reads as a number.
    #[error("a stage cannot be called {0:?}, which is a number")]
    Number(String),
    /// A name twice.
    #[error("the stage {0:?} is given twice")]
    Twice(String),
    /// A grade that is none.
    #[error("the stage {name:?} cannot be {value:?}; a grade is a number from 0 to 1")]
    Grade {
        /// The stage.
        name: String,
        /// What was given.
        value: String,
    },
    /// Some stages with a grade and some without.
    #[error("give every stage a grade, or none: {0:?} has none")]
    Some(String),
}

impl StageScale {
    /// The grade of a stage, 0 to 1; capitals and blanks around it do not matter.
    pub fn grade(&self, stage: &str) -> Option<f64> {
        let plain = plain(stage);
        self.0.iter().find(|(name, _)| *name == plain).map(|(_, grade)| *grade)
    }

    /// Whether there is no stage.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The stages, with their grades.
    pub fn stages(&self) -> impl Iterator<Item = (&str, f64)> {
        self.0.iter().map(|(name, grade)| (name.as_str(), *grade))
    }
}

fn plain(stage: &str) -> String {
    stage.trim().to_lowercase()
}

impl std::str::FromStr for StageScale {
    type Err = StageScaleError;

    fn from_str(text: &str) -> Result<Self, StageScaleError> {
        let mut stages: Vec<(String, Option<f64>)> = Vec::new();
        for part in text.split(',') {
            let (name, value) = match part.split_once('=') {
                Some((name, value)) => (plain(name), Some(value.trim())),
                None => (plain(part), None),
            };
            if name.is_empty() {
                return Err(StageScaleError::NoName);
            }
            if name.parse::<f64>().is_ok() {
                return Err(StageScaleError::Number(name));
            }
            if stages.iter().any(|(known, _)| *known == name) {
                return Err(StageScaleError::Twice(name));
            }
            let grade = match value {
                None => None,
                Some(value) => match value.parse::<f64>() {
                    Ok(grade) if (0.0..=1.0).contains(&grade) => Some(grade),
                    _ => return Err(StageScaleError::Grade { name, value: value.to_owned() }),
                },
            };
            stages.push((name, grade));
        }
        let count = stages.len() as f64;
        if stages.iter().all(|(_, grade)| grade.is_none()) {
            let evenly = stages.into_iter().enumerate();
            return Ok(Self(evenly.map(|(k, (name, _))| (name, (k + 1) as f64 / count)).collect()));
        }
        let graded: Result<Arc<[_]>, _> = stages
            .into_iter()
            .map(|(name, grade)| match grade {
                Some(grade) => Ok((name, grade)),
                None => Err(StageScaleError::Some(name)),
            })
            .collect();
        Ok(Self(graded?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faults_are_named() {
        for text in ["", "a,,b", "a=2", "a=x", "a=nan", "a,A", "a=0.5,b", "0.5"] {
            assert!(text.parse::<StageScale>().is_err(), "{text}");
        }
        let one: StageScale = "Window = 1".parse().unwrap();
        assert_eq!(one.stages().collect::<Vec<_>>(), [("window", 1.0)]);
    }
}
