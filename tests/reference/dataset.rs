//! Reads a NIST StRD file by the line ranges that its header states.

use std::fs;

#[derive(Debug)]
pub struct Dataset {
    /// Start 1 and Start 2, or empty for a linear set.
    pub starts: Vec<Vec<f64>>,
    pub certified: Vec<f64>,
    pub certified_errors: Vec<f64>,
    pub certified_rss: f64,
    /// The response, then the predictors.
    pub rows: Vec<Vec<f64>>,
}

impl Dataset {
    pub fn read(name: &str) -> Self {
        let path = format!("tests/reference/nist-strd/{name}.dat");
        let text = fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"));
        let lines: Vec<&str> = text.lines().collect();
        let range = |label: &str| {
            let line = lines
                .iter()
                .find(|line| line.contains(label) && line.contains("lines"))
                .unwrap_or_else(|| panic!("{path} states no lines for '{label}'"));
            let (_, stated) = line.split_once("lines").unwrap();
            let bounds: Vec<usize> = stated
                .split(|c: char| !c.is_ascii_digit())
                .filter(|word| !word.is_empty())
                .map(|word| word.parse().unwrap())
                .collect();
            &lines[bounds[0] - 1..bounds[1].min(lines.len())]
        };
        let mut starts = vec![Vec::new(), Vec::new()];
        let (mut certified, mut certified_errors) = (Vec::new(), Vec::new());
        let linear = !lines.iter().take(20).any(|line| line.contains("Starting Values"));
        if linear {
            for line in range("Certified Values") {
                let words: Vec<&str> = line.split_whitespace().collect();
                if words.len() == 3 && words[0].starts_with('B') && words[1].parse::<f64>().is_ok()
                {
                    certified.push(words[1].parse().unwrap());
                    certified_errors.push(words[2].parse().unwrap());
                }
            }
            starts.clear();
        } else {
            for line in range("Starting Values") {
                let Some((_, values)) = line.split_once('=') else { continue };
                let values: Vec<f64> =
                    values.split_whitespace().map(|word| word.parse().unwrap()).collect();
                starts[0].push(values[0]);
                starts[1].push(values[1]);
                certified.push(values[2]);
                certified_errors.push(values[3]);
            }
        }
        let rows: Vec<Vec<f64>> = range("Data ")
            .iter()
            .map(|line| line.split_whitespace().map(|word| word.parse().unwrap()).collect())
            .filter(|row: &Vec<f64>| !row.is_empty())
            .collect();
        assert!(!certified.is_empty() && !rows.is_empty(), "{path} was not understood");
        let certified_rss = if linear { residual_of_table(&lines) } else { rss(&lines) };
        Self { starts, certified, certified_errors, certified_rss, rows }
    }
}

/// The line `Residual Sum of Squares: …` of a nonlinear file.
fn rss(lines: &[&str]) -> f64 {
    let line = lines.iter().find(|line| line.starts_with("Residual Sum of Squares")).unwrap();
    line.split_whitespace().last().unwrap().parse().unwrap()
}

/// The line `Residual dof sum-of-squares mean-square` of a linear file.
fn residual_of_table(lines: &[&str]) -> f64 {
    let words = lines
        .iter()
        .map(|line| line.split_whitespace().collect::<Vec<_>>())
        .find(|words| words.len() >= 4 && words[0] == "Residual" && words[2].parse::<f64>().is_ok())
        .unwrap();
    words[2].parse().unwrap()
}

/// Digits to which `value` agrees with `certified`: −log₁₀ of the relative
/// error, of the absolute error where zero is certified; 16 at most.
pub fn digits(value: f64, certified: f64) -> f64 {
    let error = (value - certified).abs() / if certified == 0.0 { 1.0 } else { certified.abs() };
    if error.is_nan() { 0.0 } else { (-error.log10()).clamp(0.0, 16.0) }
}

/// The fewest digits over all pairs.
pub fn fewest_digits(values: &[f64], certified: &[f64]) -> f64 {
    assert_eq!(values.len(), certified.len());
    values.iter().zip(certified).map(|(&v, &c)| digits(v, c)).fold(16.0, f64::min)
}
