//! Minutes as the decimals that a baker writes, so that totals subtract without rounding.
//!
//! In binary 0.3 − 0.1 is not 0.2. Totals so far are logged in decimals and the
//! minutes of a stage are their difference, so the difference is taken in decimals
//! and rounded to binary once: 0.2, and a written log reads back as it was.

/// A decimal number: `digits · 10^−decimals`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Decimal {
    digits: i128,
    decimals: u32,
}

/// What an `i128` holds with room for a sum of two.
const MOST_DIGITS: u32 = 37;

/// Powers of ten that are exact in binary.
pub(crate) const EXACT_TENS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];

/// Up to 2⁵³ whole numbers are exact in binary.
const EXACT_DIGITS: f64 = 9_007_199_254_740_992.0;

/// A decimal, or none, in half the room: an `i128` stands at every sixteenth byte only.
#[derive(Clone, Copy)]
pub(crate) struct Kept {
    digits: [u8; 16],
    decimals: Option<std::num::NonZero<u32>>,
}

impl Kept {
    pub(crate) fn new(decimal: Option<Decimal>) -> Self {
        let digits = decimal.map_or(0, |decimal| decimal.digits).to_ne_bytes();
        let more = |decimal: Decimal| decimal.decimals.checked_add(1);
        Self { digits, decimals: decimal.and_then(more).and_then(std::num::NonZero::new) }
    }

    pub(crate) fn get(self) -> Option<Decimal> {
        let digits = i128::from_ne_bytes(self.digits);
        self.decimals.map(|more| Decimal { digits, decimals: more.get() - 1 })
    }
}

impl Decimal {
    pub(crate) const ZERO: Self = Self { digits: 0, decimals: 0 };

    /// The decimal of a text of digits with a point at most; `None` for anything
    /// else, exponents too, and where it has too many digits.
    pub(crate) fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let (negative, text) = match text.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, text.strip_prefix('+').unwrap_or(text)),
        };
        let (mut digits, mut decimals, mut count) = (0_i128, None, 0);
        for byte in text.bytes() {
            match byte {
                b'0'..=b'9' => {
                    digits = digits * 10 + i128::from(byte - b'0');
                    decimals = decimals.map(|d| d + 1);
                    count += u32::from(digits != 0);
                }
                b'.' if decimals.is_none() => decimals = Some(0),
                _ => return None,
            }
            if count > MOST_DIGITS || decimals > Some(MOST_DIGITS) {
                return None;
            }
        }
        let digits = if negative { -digits } else { digits };
        Some(Self { digits, decimals: decimals.unwrap_or(0) })
    }

    /// The shortest decimal that reads back as the number; `None` where it is
    /// too long, as for most numbers below some 10⁻²⁰.
    pub(crate) fn of(value: f64) -> Option<Self> {
        // What bakers write has few decimals. The quotient is the nearest binary
        // number to that decimal, so where it is the number, the decimal is it.
        for (decimals, ten) in EXACT_TENS[..5].iter().enumerate() {
            let digits = (value * ten).round();
            if digits.abs() < EXACT_DIGITS && digits / ten == value {
                return Some(Self { digits: digits as i128, decimals: decimals as u32 });
            }
        }
        // `Display` of f64 is that decimal, without exponent.
        Self::parse(&value.to_string())
    }

    /// Both numbers over the same power of ten.
    fn aligned(self, other: Self) -> Option<(i128, i128, u32)> {
        if self.decimals == other.decimals {
            return Some((self.digits, other.digits, self.decimals));
        }
        let decimals = self.decimals.max(other.decimals);
        let scaled = |d: Self| d.digits.checked_mul(10_i128.checked_pow(decimals - d.decimals)?);
        Some((scaled(self)?, scaled(other)?, decimals))
    }

    pub(crate) fn plus(self, other: Self) -> Option<Self> {
        let (a, b, decimals) = self.aligned(other)?;
        Some(Self { digits: a.checked_add(b)?, decimals })
    }

    pub(crate) fn minus(self, other: Self) -> Option<Self> {
        self.plus(Self { digits: -other.digits, ..other })
    }

    /// The nearest binary number.
    pub(crate) fn to_f64(self) -> f64 {
        if self.digits.abs() < EXACT_DIGITS as i128
            && let Some(ten) = EXACT_TENS.get(self.decimals as usize)
        {
            return self.digits as f64 / ten;
        }
        // Digits or a power of ten that is itself rounded would round twice; the
        // text is rounded once.
        self.to_string().parse().unwrap_or(f64::NAN)
    }
}

impl std::fmt::Display for Decimal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let digits = self.digits.unsigned_abs().to_string();
        let decimals = self.decimals as usize;
        let padded = format!("{digits:0>width$}", width = decimals + 1);
        let (whole, after) = padded.split_at(padded.len() - decimals);
        let after = after.trim_end_matches('0');
        let sign = if self.digits < 0 { "-" } else { "" };
        let point = if after.is_empty() { "" } else { "." };
        write!(f, "{sign}{whole}{point}{after}")
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn differences_are_those_of_the_notebook() {
        let difference =
            |a: &str, b: &str| Decimal::parse(a).unwrap().minus(Decimal::parse(b).unwrap());
        assert_eq!(difference("0.3", "0.1").unwrap().to_f64(), 0.2);
        assert_eq!(difference("12.3", "4.1").unwrap().to_f64(), 8.2);
        assert_eq!(difference("4", "4.50").unwrap().to_string(), "-0.5");
        assert_eq!(Decimal::of(1e-40), None);
        assert_eq!(Decimal::parse("1e3"), None);
    }

    proptest! {
        #[test]
        fn a_total_gives_its_part_back(before in 0.001_f64..5000.0, part in 0.001_f64..5000.0) {
            let (before, part_decimal) = (Decimal::of(before).unwrap(), Decimal::of(part).unwrap());
            let total = Decimal::parse(&before.plus(part_decimal).unwrap().to_string()).unwrap();
            prop_assert_eq!(total.minus(before).unwrap().to_f64(), part);
        }
    }
}
