//! How far a dough scatters from batch to batch, by what was done to it.
//!
//! One batch of the same dough rubs a few per cent more than the next: it is a little stiffer,
//! lies otherwise in the bowl, takes the flour of another day. What comes of that grows with the
//! warmth that friction has brought. A little scatter comes without any work, of flours that wet
//! more or less warmly for one. So τ, the scatter of a batch, is the part that friction brings
//! for each [`SCATTER_WARMTH_K`] of warmth; [`SCATTER_UNWORKED`] of it comes without any, and a
//! reading takes the share of τ that goes with its own warmth by friction. Readings of one batch go the same way, each by its share.

/// The warmth by friction for which scatter from batch to batch is stated, K.
pub const SCATTER_WARMTH_K: f64 = 10.0;

/// The part of the scatter, of 1, that a dough has which friction has not warmed at all. A
/// judgement without a source: one log cannot tell it from what friction brings.
pub const SCATTER_UNWORKED: f64 = 0.3;

/// The share of the scatter from batch to batch that a dough has which friction has warmed by
/// `warmth_k`: `√(0.3² + (warmth / 10 K)²)`.
///
/// `warmth_k` is the slope of the dough's temperature by the logarithm of the friction power, K:
/// what friction has brought, less what of that has gone to the room and been kept out by a dough
/// that softened.
///
/// # Examples
///
/// ```
/// use kneadfit::thermal::scatter_share;
///
/// assert_eq!(scatter_share(0.0), 0.3);
/// // A dough that friction has warmed by 20 K scatters by twice as much as one of 10 K.
/// assert!((scatter_share(20.0) / scatter_share(10.0) - 1.937).abs() < 1e-3);
/// ```
#[inline]
pub fn scatter_share(warmth_k: f64) -> f64 {
    let worked = warmth_k / SCATTER_WARMTH_K;
    (SCATTER_UNWORKED * SCATTER_UNWORKED + worked * worked).sqrt()
}
