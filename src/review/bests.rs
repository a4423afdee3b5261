//! Best mean powers: for each length of time the greatest mean of any window of that length, exactly.

/// Windows are looked for in groups of so many starts: a group that cannot hold a better one is passed over.
const GROUP: usize = 64;
/// And in groups of so many groups.
const GROUPS: usize = 64;
/// The starts of a group of groups.
const MANY: usize = GROUP * GROUPS;
/// So many windows are looked at side by side.
const LANES: usize = 8;

/// The greatest mean for every length from 1 to `longest` seconds; the first stands for one second. It ends where no
/// piece is as long. Each piece is a stretch of seconds without a break, and no window reaches over two.
///
/// Every length is exact. Sums of the first seconds make a window's work one subtraction; a group of windows is passed
/// over where even the greatest sum at its end less the least at its start is no better than what was found. The mean of
/// all is taken off every second first: without it sums rise all through a ride, and no group would ever be passed over.
/// The best window of the length before, made longer by a second, is the first to be beaten.
pub fn best_means(pieces: &[Vec<f64>], longest: usize) -> Vec<f64> {
    let count: usize = pieces.iter().map(Vec::len).sum();
    let whole: f64 = pieces.iter().flatten().sum();
    let mean = whole / count.max(1) as f64;
    let sums: Vec<Sums> = pieces.iter().map(|piece| Sums::of(piece, mean)).collect();
    let most = pieces.iter().map(Vec::len).max().unwrap_or(0).min(longest);
    let mut means = Vec::with_capacity(most);
    let mut last: Option<(usize, usize)> = None;
    for length in 1..=most {
        let mut best = f64::NEG_INFINITY;
        let mut found = None;
        if let Some((piece, start)) = last {
            for start in [start, start.saturating_sub(1)] {
                if let Some(work) = sums[piece].work(start, length).filter(|work| *work > best) {
                    best = work;
                    found = Some((piece, start));
                }
            }
        }
        for (piece, sums) in sums.iter().enumerate() {
            if let Some((work, start)) = sums.better(length, best) {
                best = work;
                found = Some((piece, start));
            }
        }
        last = found;
        means.push(best / length as f64 + mean);
    }
    means
}

/// The greatest mean for each of some lengths, in seconds and in rising order. It ends where no piece is as long.
pub fn bests_at(pieces: &[Vec<f64>], lengths: &[usize]) -> Vec<f64> {
    let mut bests = Vec::with_capacity(lengths.len());
    for &length in lengths.iter().take_while(|length| **length > 0) {
        let mut best: Option<f64> = None;
        for piece in pieces.iter().filter(|piece| piece.len() >= length) {
            let mut sum: f64 = piece[..length].iter().sum();
            let mut most = sum;
            for (out, value) in piece.iter().zip(&piece[length..]) {
                sum += value - out;
                most = most.max(sum);
            }
            best = Some(best.map_or(most, |best| best.max(most)));
        }
        let Some(best) = best else { break };
        bests.push(best / length as f64);
    }
    bests
}

/// A piece's running sums of what lies above the mean, with the least and the greatest of each group.
struct Sums {
    /// The sum of the first so many seconds; one more than there are seconds.
    sums: Vec<f64>,
    least: Vec<f64>,
    most: Vec<f64>,
    least_of_many: Vec<f64>,
    most_of_many: Vec<f64>,
}

impl Sums {
    fn of(piece: &[f64], mean: f64) -> Self {
        let mut sums = Vec::with_capacity(piece.len() + 1);
        let mut sum = 0.0;
        sums.push(sum);
        for value in piece {
            sum += value - mean;
            sums.push(sum);
        }
        let fold = |values: &[f64], size: usize, with: fn(f64, f64) -> f64| -> Vec<f64> {
            let groups = values.chunks(size);
            groups
                .map(|group| group.iter().copied().reduce(with).unwrap_or(0.0))
                .collect()
        };
        let (least, most) = (fold(&sums, GROUP, f64::min), fold(&sums, GROUP, f64::max));
        Self {
            least_of_many: fold(&least, GROUPS, f64::min),
            most_of_many: fold(&most, GROUPS, f64::max),
            sums,
            least,
            most,
        }
    }

    /// The work of one window above the mean; none where it does not lie in the piece.
    fn work(&self, start: usize, length: usize) -> Option<f64> {
        Some(self.sums.get(start + length)? - self.sums[start])
    }

    /// A window of that length with more work than `best`: the best there is, with its start.
    fn better(&self, length: usize, mut best: f64) -> Option<(f64, usize)> {
        let starts = (self.sums.len()).checked_sub(length).filter(|n| *n > 0)?;
        let mut found = None;
        for (many, &least) in self.least_of_many.iter().enumerate() {
            let from = many * MANY;
            if from >= starts {
                break;
            }
            let to = (from + MANY).min(starts);
            let ends = (from + length) / MANY..=(to - 1 + length) / MANY;
            let most = greatest(&self.most_of_many[ends]);
            if most - least <= best {
                continue;
            }
            for group in from / GROUP..to.div_ceil(GROUP) {
                if let Some((work, start)) = self.better_in(group, length, starts, best) {
                    best = work;
                    found = Some((work, start));
                }
            }
        }
        found
    }

    /// The same in one group of starts.
    fn better_in(
        &self,
        group: usize,
        length: usize,
        starts: usize,
        best: f64,
    ) -> Option<(f64, usize)> {
        let from = group * GROUP;
        let to = (from + GROUP).min(starts);
        let ends = (from + length) / GROUP..=(to - 1 + length) / GROUP;
        if greatest(&self.most[ends]) - self.least[group] <= best {
            return None;
        }
        let (heads, tails) = (&self.sums[from..to], &self.sums[from + length..to + length]);
        // Side by side, so that the processor can take several at once.
        let mut lanes = [f64::NEG_INFINITY; LANES];
        let (head_chunks, head_rest) = heads.as_chunks::<LANES>();
        let (tail_chunks, tail_rest) = tails.as_chunks::<LANES>();
        for (head, tail) in head_chunks.iter().zip(tail_chunks) {
            for lane in 0..LANES {
                let work = tail[lane] - head[lane];
                lanes[lane] = if work > lanes[lane] {
                    work
                } else {
                    lanes[lane]
                };
            }
        }
        let rest = head_rest
            .iter()
            .zip(tail_rest)
            .map(|(head, tail)| tail - head);
        let work = rest.fold(greatest(&lanes), f64::max);
        if work <= best {
            return None;
        }
        let mut windows = heads.iter().zip(tails);
        let place = windows.position(|(head, tail)| tail - head == work);
        Some((work, from + place.unwrap_or(0)))
    }
}

fn greatest(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn the_sheets_example() {
        // pandas: Series([...]).rolling(d).mean().max() (after Pinot & Grappe 2011).
        let ride = vec![
            100.0, 200.0, 300.0, 400.0, 300.0, 200.0, 100.0, 500.0, 50.0, 150.0,
        ];
        let means = best_means(&[ride], 3600);
        assert_eq!(means.len(), 10);
        for (length, watts) in [
            (1, 500.0),
            (2, 350.0),
            (3, 333.333_333),
            (4, 300.0),
            (5, 300.0),
            (10, 230.0),
        ] {
            assert!(
                (means[length - 1] - watts).abs() < 1e-5,
                "{length}: {means:?}"
            );
        }
    }

    #[test]
    fn of_nothing_there_is_nothing() {
        assert_eq!(best_means(&[], 10), [0.0; 0]);
        assert_eq!(best_means(&[vec![]], 10), [0.0; 0]);
        assert_eq!(best_means(&[vec![200.0; 5]], 0), [0.0; 0]);
    }

    proptest! {
        /// Against all windows tried one by one, with pieces of any length and powers below zero too.
        #[test]
        fn they_are_those_of_every_window_tried(
            pieces in proptest::collection::vec(proptest::collection::vec(-20..1200_i32, 0..300), 0..4),
            longest in 0..400_usize,
        ) {
            let pieces: Vec<Vec<f64>> = pieces
                .into_iter()
                .map(|piece| piece.into_iter().map(f64::from).collect())
                .collect();
            let found = best_means(&pieces, longest);
            let most = pieces.iter().map(Vec::len).max().unwrap_or(0).min(longest);
            prop_assert_eq!(found.len(), most);
            let lengths: Vec<usize> = (1..=longest).step_by(7).collect();
            let at = bests_at(&pieces, &lengths);
            prop_assert_eq!(at.len(), lengths.iter().filter(|length| **length <= most).count());
            for (length, mean) in lengths.iter().zip(&at) {
                prop_assert!((mean - found[length - 1]).abs() < 1e-6);
            }
            for (index, mean) in found.iter().enumerate() {
                let length = index + 1;
                let tried = pieces
                    .iter()
                    .flat_map(|piece| piece.windows(length))
                    .map(|window| window.iter().sum::<f64>() / length as f64)
                    .fold(f64::NEG_INFINITY, f64::max);
                prop_assert!((mean - tried).abs() < 1e-6, "{}: {} for {}", length, mean, tried);
            }
        }
    }
}
