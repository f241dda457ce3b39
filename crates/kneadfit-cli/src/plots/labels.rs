//! Where the label of a mark goes: beside it, clear of other labels and marks where the
//! panel has room for that.

/// A rectangle in px: left, top, right, bottom.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Box2 {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Box2 {
    /// A rectangle about a point.
    pub fn about((x, y): (f64, f64), half_width: f64, half_height: f64) -> Self {
        Self {
            left: x - half_width,
            top: y - half_height,
            right: x + half_width,
            bottom: y + half_height,
        }
    }

    /// The point of the rectangle that is nearest to another.
    pub fn nearest(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (x.clamp(self.left, self.right), y.clamp(self.top, self.bottom))
    }

    fn overlap(&self, other: &Self) -> f64 {
        let width = self.right.min(other.right) - self.left.max(other.left);
        let height = self.bottom.min(other.bottom) - self.top.max(other.top);
        if width > 0.0 && height > 0.0 { width * height } else { 0.0 }
    }

    /// The rectangle, pushed inside another.
    fn pushed_into(self, inside: &Self) -> Self {
        let dx = (inside.left - self.left).max(0.0) + (inside.right - self.right).min(0.0);
        let dy = (inside.top - self.top).max(0.0) + (inside.bottom - self.bottom).min(0.0);
        Self {
            left: self.left + dx,
            right: self.right + dx,
            top: self.top + dy,
            bottom: self.bottom + dy,
        }
    }
}

/// Finds a place for one label after the other.
#[derive(Clone, Debug)]
pub struct Placer {
    inside: Box2,
    taken: Vec<(Box2, f64)>,
}

/// Covering another label is worse than covering a mark.
const LABEL_WEIGHT: f64 = 20.0;
/// Part of a label that may lie on others; widths are guessed on the wide side.
const MOST_COVERED: f64 = 0.05;
/// What it costs to stand far from the mark, per ring.
const RING_COST: f64 = 3.0;

impl Placer {
    /// Labels stay inside this rectangle.
    pub fn new(inside: Box2) -> Self {
        Self { inside, taken: Vec::new() }
    }

    /// Labels better not cover this.
    pub fn avoid(&mut self, place: Box2) {
        self.taken.push((place, 1.0));
    }

    /// The place of a label of a size beside a point; `None` where it could only stand on
    /// another label.
    pub fn place(
        &mut self,
        (x, y): (f64, f64),
        (width, height): (f64, f64),
        gap: f64,
    ) -> Option<Box2> {
        let mut best: Option<(f64, Box2)> = None;
        for ring in 0..4 {
            let off = gap + f64::from(ring) * 0.7 * height;
            for (across, down) in [
                (1.0, 0.0),
                (-1.0, 0.0),
                (0.0, -1.0),
                (0.0, 1.0),
                (0.7, -0.8),
                (-0.7, -0.8),
                (0.7, 0.8),
                (-0.7, 0.8),
            ] {
                let middle = (x + across * (off + width / 2.0), y + down * (off + height / 2.0));
                let at = Box2::about(middle, width / 2.0, height / 2.0).pushed_into(&self.inside);
                let covered: f64 =
                    self.taken.iter().map(|(other, weight)| weight * at.overlap(other)).sum();
                let cost = covered + RING_COST * f64::from(ring);
                if best.is_none_or(|(least, _)| cost < least) {
                    best = Some((cost, at));
                }
            }
        }
        let (_, at) = best?;
        let labels = self.taken.iter().filter(|(_, weight)| *weight == LABEL_WEIGHT);
        let covered: f64 = labels.map(|(other, _)| at.overlap(other)).sum();
        if covered > MOST_COVERED * width * height {
            return None;
        }
        self.taken.push((at, LABEL_WEIGHT));
        Some(at)
    }
}

/// Heights that lie `apart` from each other within a range, as near as can be to those that
/// are wanted, which are in rising order: where some crowd, they stand evenly about their
/// middle (isotonic regression by pooling neighbours).
pub fn spread(wanted: &[f64], apart: f64, (least, most): (f64, f64)) -> Vec<f64> {
    // Less the room of those before, heights only must not fall: sum and number of each pool.
    let mut pools: Vec<(f64, usize)> = Vec::new();
    let mean = |(sum, count): (f64, usize)| sum / count as f64;
    for (index, height) in wanted.iter().enumerate() {
        let mut pool = (height - index as f64 * apart, 1);
        while let Some(before) = pools.pop_if(|before| mean(*before) > mean(pool)) {
            pool = (pool.0 + before.0, pool.1 + before.1);
        }
        pools.push(pool);
    }
    let room = wanted.len().saturating_sub(1) as f64 * apart;
    let top = (most - room).max(least);
    let heights = pools.iter().flat_map(|&pool| std::iter::repeat_n(mean(pool), pool.1));
    heights.enumerate().map(|(i, at)| at.clamp(least, top) + i as f64 * apart).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crowded_heights_are_spread_about_their_middle() {
        let spread = |wanted: &[f64]| spread(wanted, 10.0, (0.0, 100.0));
        assert_eq!(spread(&[20.0, 60.0]), [20.0, 60.0]);
        assert_eq!(spread(&[50.0, 50.0, 50.0]), [40.0, 50.0, 60.0]);
        assert_eq!(spread(&[48.0, 52.0, 90.0]), [45.0, 55.0, 90.0]);
        assert_eq!(spread(&[1.0, 2.0, 97.0, 99.0, 100.0]), [0.0, 10.0, 80.0, 90.0, 100.0]);
        assert!(spread(&[]).is_empty());
    }

    #[test]
    fn labels_of_one_crowd_do_not_cover_each_other() {
        let mut placer = Placer::new(Box2 { left: 0.0, top: 0.0, right: 300.0, bottom: 200.0 });
        let points = [(150.0, 100.0), (153.0, 101.0), (149.0, 97.0), (155.0, 104.0)];
        for point in points {
            placer.avoid(Box2::about(point, 4.0, 4.0));
        }
        let places: Vec<Box2> =
            points.iter().map(|&p| placer.place(p, (40.0, 14.0), 6.0).expect("room")).collect();
        for (i, a) in places.iter().enumerate() {
            assert!(a.left >= 0.0 && a.right <= 300.0);
            for b in &places[i + 1..] {
                assert_eq!(a.overlap(b), 0.0, "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn a_label_without_room_is_not_written_over_another() {
        let mut placer = Placer::new(Box2 { left: 0.0, top: 0.0, right: 45.0, bottom: 16.0 });
        assert!(placer.place((20.0, 8.0), (44.0, 15.0), 6.0).is_some());
        assert_eq!(placer.place((22.0, 8.0), (44.0, 15.0), 6.0), None);
    }

    #[test]
    fn a_label_at_the_edge_stays_inside() {
        let inside = Box2 { left: 0.0, top: 0.0, right: 100.0, bottom: 100.0 };
        let at = Placer::new(inside).place((99.0, 1.0), (50.0, 14.0), 6.0).expect("room");
        assert!(at.right <= 100.0 && at.top >= 0.0);
    }
}
