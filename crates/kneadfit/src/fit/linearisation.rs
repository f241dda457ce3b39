//! Readings and their derivatives at one set of coefficients, batch by batch.

use std::ops::Range;

/// What a model says of all logged readings at one set of coefficients.
///
/// # Shape
///
/// Readings are grouped by batch; batch `b` holds readings `offsets[b]..offsets[b+1]`.
/// `jacobian` is row-major, one row of `coefficients` numbers a reading.
#[derive(Clone, Debug, Default)]
pub struct Linearisation {
    /// How many coefficients a row of the Jacobian has.
    pub coefficients: usize,
    /// Where each batch's readings begin; one more than there are batches.
    pub offsets: Vec<u32>,
    /// Predicted − observed.
    pub residuals: Vec<f64>,
    /// d(predicted)/d(coefficient on its fitted scale).
    pub jacobian: Vec<f64>,
    /// For each batch the covariance of its readings that thermometers, scale and clock
    /// make, `n × n` with the lower triangle filled, one block after the other.
    pub covariance: Vec<f64>,
    /// Where each batch's covariance block begins; one more than there are batches.
    pub blocks: Vec<u32>,
    /// d(predicted)/d(the batch's own scatter).
    pub shift: Vec<f64>,
}

/// One batch of a [`Linearisation`].
#[derive(Clone, Copy, Debug)]
pub struct BatchRows<'a> {
    /// Predicted − observed.
    pub residuals: &'a [f64],
    /// Rows of the Jacobian, one after the other.
    pub jacobian: &'a [f64],
    /// Covariance block, `n × n`.
    pub covariance: &'a [f64],
    /// Scatter direction.
    pub shift: &'a [f64],
}

impl Linearisation {
    /// Room for readings grouped by batch, `counts` readings in each.
    pub fn with_shape(coefficients: usize, counts: impl IntoIterator<Item = usize>) -> Self {
        let counts = counts.into_iter();
        let room = counts.size_hint().0 + 1;
        let (mut offsets, mut blocks) = (Vec::with_capacity(room), Vec::with_capacity(room));
        offsets.push(0);
        blocks.push(0);
        let (mut readings, mut entries) = (0, 0);
        for count in counts {
            readings += count;
            entries += count * count;
            offsets.push(readings as u32);
            blocks.push(entries as u32);
        }
        Self {
            coefficients,
            offsets,
            residuals: vec![0.0; readings],
            jacobian: vec![0.0; readings * coefficients],
            covariance: vec![0.0; entries],
            blocks,
            // Nought everywhere, so that the threads that fill it are the first to touch it.
            shift: vec![0.0; readings],
        }
    }

    /// How many batches there are.
    pub fn batch_count(&self) -> usize {
        self.offsets.len() - 1
    }

    /// How many readings there are.
    pub fn reading_count(&self) -> usize {
        self.residuals.len()
    }

    /// The most readings that one batch has.
    pub fn most_readings(&self) -> usize {
        self.offsets.windows(2).map(|w| (w[1] - w[0]) as usize).max().unwrap_or(0)
    }

    /// Which readings are of one batch.
    #[inline]
    pub fn readings_of(&self, index: usize) -> Range<usize> {
        self.offsets[index] as usize..self.offsets[index + 1] as usize
    }

    /// The readings of one batch.
    #[inline]
    pub fn batch(&self, index: usize) -> BatchRows<'_> {
        let rows = self.readings_of(index);
        let block = self.blocks[index] as usize..self.blocks[index + 1] as usize;
        BatchRows {
            residuals: &self.residuals[rows.clone()],
            jacobian: &self.jacobian[rows.start * self.coefficients..rows.end * self.coefficients],
            covariance: &self.covariance[block],
            shift: &self.shift[rows],
        }
    }
}

/// So many batches at least are worth another thread. What is added up over a log is added up
/// piece by piece in its order, so that no bit hangs on the number of threads.
pub(crate) const PIECE: usize = 4096;

/// The room of some batches of a [`Linearisation`] that follow each other, to be filled.
#[derive(Debug)]
pub(crate) struct LinearisationPiece<'a> {
    /// Which batches.
    pub batches: Range<usize>,
    /// Their residuals.
    pub residuals: &'a mut [f64],
    /// Their rows of the Jacobian.
    pub jacobian: &'a mut [f64],
    /// Their covariance blocks.
    pub covariance: &'a mut [f64],
    /// Their scatter directions.
    pub shift: &'a mut [f64],
    /// Where the readings of each batch of the whole log begin.
    offsets: &'a [u32],
    /// Where the covariance block of each batch of the whole log begins.
    blocks: &'a [u32],
    coefficients: usize,
}

impl LinearisationPiece<'_> {
    /// How many readings come before the piece's own.
    #[inline]
    pub fn begin(&self) -> usize {
        self.offsets[self.batches.start] as usize
    }

    /// Which readings of the piece are of one batch, which is counted from the log's first.
    #[inline]
    pub fn readings_of(&self, index: usize) -> Range<usize> {
        let begin = self.begin();
        self.offsets[index] as usize - begin..self.offsets[index + 1] as usize - begin
    }

    /// The readings of one batch, which is counted from the log's first.
    #[inline]
    pub fn batch(&self, index: usize) -> BatchRows<'_> {
        let rows = self.readings_of(index);
        let begin = self.blocks[self.batches.start];
        let block = self.blocks[index] - begin..self.blocks[index + 1] - begin;
        BatchRows {
            residuals: &self.residuals[rows.clone()],
            jacobian: &self.jacobian[rows.start * self.coefficients..rows.end * self.coefficients],
            covariance: &self.covariance[block.start as usize..block.end as usize],
            shift: &self.shift[rows],
        }
    }
}

impl Linearisation {
    /// All batches as one piece.
    pub(crate) fn whole(&mut self) -> LinearisationPiece<'_> {
        let batches = 0..self.batch_count();
        let Self { residuals, jacobian, covariance, shift, offsets, blocks, coefficients } = self;
        LinearisationPiece {
            batches,
            residuals,
            jacobian,
            covariance,
            shift,
            offsets,
            blocks,
            coefficients: *coefficients,
        }
    }

    /// Its batches, [`PIECE`] after [`PIECE`].
    pub(crate) fn pieces(&mut self) -> Vec<LinearisationPiece<'_>> {
        let batches = self.batch_count();
        let Self { residuals, jacobian, covariance, shift, offsets, blocks, coefficients } = self;
        let (mut residuals, mut jacobian) = (&mut residuals[..], &mut jacobian[..]);
        let (mut covariance, mut shift) = (&mut covariance[..], &mut shift[..]);
        let (offsets, blocks) = (&offsets[..], &blocks[..]);
        let mut take = |rows: usize, entries: usize, batches| LinearisationPiece {
            batches,
            residuals: residuals.split_off_mut(..rows).unwrap_or_default(),
            jacobian: jacobian.split_off_mut(..rows * *coefficients).unwrap_or_default(),
            covariance: covariance.split_off_mut(..entries).unwrap_or_default(),
            shift: shift.split_off_mut(..rows).unwrap_or_default(),
            offsets,
            blocks,
            coefficients: *coefficients,
        };
        (0..batches)
            .step_by(PIECE)
            .map(|begin| {
                let end = batches.min(begin + PIECE);
                let rows = offsets[end] - offsets[begin];
                take(rows as usize, (blocks[end] - blocks[begin]) as usize, begin..end)
            })
            .collect()
    }
}

/// Which batches a thinned log keeps: about one in `every`, scattered by a multiplicative
/// hash, so that a log that repeats itself week by week is not always met on a Monday.
pub(crate) fn kept(every: usize, batches: usize) -> Vec<usize> {
    let keeps = |i: &usize| {
        // 2⁶⁴ divided by the golden ratio.
        let scattered = (*i as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 32;
        scattered.wrapping_mul(every as u64) >> 32 == 0
    };
    (0..batches).filter(keeps).collect()
}

/// The groups of `values` that are kept; group `g` is `offsets[g]..offsets[g + 1]`.
pub(crate) fn kept_groups<T: Copy>(
    values: &[T],
    offsets: &[u32],
    kept: impl Iterator<Item = usize>,
) -> Vec<T> {
    kept.flat_map(|g| &values[offsets[g] as usize..offsets[g + 1] as usize]).copied().collect()
}

/// The offsets of the groups that are kept.
pub(crate) fn kept_offsets(offsets: &[u32], kept: impl Iterator<Item = usize>) -> Vec<u32> {
    let mut end = 0;
    std::iter::once(0)
        .chain(kept.map(|g| {
            end += offsets[g + 1] - offsets[g];
            end
        }))
        .collect()
}

/// A model of logged readings that can be evaluated and linearised.
///
/// Coefficients are given on their fitted scale, all of them, held ones included.
pub trait Readings {
    /// The readings of about one batch in `every` only: enough to come near the answer.
    fn thinned(&self, every: usize) -> Self
    where
        Self: Sized;

    /// An empty linearisation of the right shape.
    fn shape(&self) -> Linearisation;

    /// Fills residuals and, where `with_jacobian`, the Jacobian; `false` when the model
    /// has no finite value there.
    fn evaluate(&mut self, fitted: &[f64], with_jacobian: bool, into: &mut Linearisation) -> bool;

    /// Fills the covariance blocks with what the inputs' and readings' uncertainties make, and
    /// the scatter directions.
    fn spread(&mut self, fitted: &[f64], into: &mut Linearisation);

    /// Residuals, Jacobian and covariance at once; `false` as for [`Self::evaluate`].
    fn linearise(&mut self, fitted: &[f64], into: &mut Linearisation) -> bool {
        let finite = self.evaluate(fitted, true, into);
        self.spread(fitted, into);
        finite
    }
}
