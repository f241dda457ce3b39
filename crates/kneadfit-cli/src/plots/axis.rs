//! An axis: its range, its ticks at round numbers and how they are written.

use std::ops::Range;

use plotters::coord::ranged1d::{KeyPointHint, NoDefaultFormatting, Ranged, ValueFormatter};

use super::text::number;

/// One axis of a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// Where it begins.
    pub low: f64,
    /// Where it ends; above `low`.
    pub high: f64,
    /// Its ticks, in order.
    pub ticks: Vec<f64>,
    decimals: usize,
}

/// Part of the range that stays free at either end.
const MARGIN: f64 = 0.05;
/// How many ticks are aimed at.
const TICKS: f64 = 5.0;

impl Axis {
    /// An axis over all finite values, with some room at its ends. `least_step` is the
    /// finest difference that makes sense: 1 for counts.
    pub fn over(values: impl IntoIterator<Item = f64>, least_step: f64) -> Self {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for value in values.into_iter().filter(|v| v.is_finite()) {
            low = low.min(value);
            high = high.max(value);
        }
        if low > high {
            (low, high) = (0.0, 1.0);
        }
        let slack = (MARGIN * (high - low)).max(least_step.max(1e-6 * high.abs()) * 0.5);
        Self::between(low - slack, high + slack, least_step)
    }

    /// An axis from one value to another, with ticks at round numbers in between.
    pub fn between(low: f64, high: f64, least_step: f64) -> Self {
        let step = round_step((high - low) / TICKS).max(least_step);
        let first = (low / step).ceil() as i64;
        let last = (high / step).floor() as i64;
        let ticks = (first..=last).map(|i| i as f64 * step).collect();
        let decimals = (-step.log10().floor()).clamp(0.0, 6.0) as usize;
        Self { low, high, ticks, decimals }
    }

    /// An axis from `−half` to `half`.
    pub fn symmetric(half: f64) -> Self {
        Self::between(-half, half, 0.0)
    }

    /// How a tick is written.
    pub fn label(&self, value: f64) -> String {
        number(value, self.decimals)
    }

    /// The value, or the end of the axis that it lies beyond.
    pub fn clamp(&self, value: f64) -> f64 {
        value.clamp(self.low, self.high)
    }

    /// Whether the value lies on the axis.
    pub fn holds(&self, value: f64) -> bool {
        value >= self.low && value <= self.high
    }
}

impl Ranged for Axis {
    type FormatOption = NoDefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, (from, to): (i32, i32)) -> i32 {
        let part = (value - self.low) / (self.high - self.low);
        from + (part * f64::from(to - from)).round() as i32
    }

    fn key_points<Hint: KeyPointHint>(&self, _: Hint) -> Vec<f64> {
        self.ticks.clone()
    }

    fn range(&self) -> Range<f64> {
        self.low..self.high
    }
}

impl ValueFormatter<f64> for Axis {
    fn format(value: &f64) -> String {
        number(*value, 2)
    }
}

/// The one of 1, 2, 5, 10 … that is nearest to `step`, by ratio.
fn round_step(step: f64) -> f64 {
    let power = 10f64.powf(step.log10().floor());
    let lead = step / power;
    let round = match lead {
        lead if lead < 2f64.sqrt() => 1.0,
        lead if lead < 10f64.sqrt() => 2.0,
        lead if lead < 50f64.sqrt() => 5.0,
        _ => 10.0,
    };
    round * power
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_stand_at_round_numbers() {
        let axis = Axis::between(19.3, 28.1, 0.0);
        assert_eq!(axis.ticks, [20.0, 22.0, 24.0, 26.0, 28.0]);
        assert_eq!(axis.label(20.0), "20");
        let fine = Axis::symmetric(0.62);
        assert_eq!(fine.ticks.len(), 7);
        assert_eq!(fine.label(fine.ticks[0]), "−0.6");
    }

    #[test]
    fn counts_have_no_ticks_between() {
        let axis = Axis::over([1.0, 2.0], 1.0);
        assert_eq!(axis.ticks, [1.0, 2.0]);
    }

    #[test]
    fn equal_or_no_values_still_make_an_axis() {
        for values in [vec![], vec![f64::NAN], vec![24.0], vec![0.0, 0.0], vec![1e9]] {
            let axis = Axis::over(values.clone(), 0.1);
            assert!(axis.low < axis.high, "{values:?} {axis:?}");
            assert!(!axis.ticks.is_empty() && axis.ticks.len() < 12, "{values:?} {axis:?}");
        }
    }
}
