//! What a draw could have yielded: how many ways there are, which is the n-th, and one of them at random.
//!
//! A draw is made of parts that know nothing of each other: blocks, cases, pairs of sessions. Each way in which a part
//! can fall out is equally likely, so the whole is too, and a test may count over the very ways that were drawn from.

use std::collections::HashMap;

/// One part of a draw; what falls out is a list of small numbers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    /// One of so many: a start among those allowed. Yields one number from 0.
    Pick(usize),
    /// Labels dealt to places: label `i` to `counts[i]` of them. Yields a label for each place.
    Deal {
        /// How many places each label gets.
        counts: Vec<usize>,
        /// No label stands in more places running; nothing: any order.
        longest_run: Option<usize>,
    },
    /// One of a list that some rule left over.
    Listed(Vec<Vec<usize>>),
}

/// All parts of a draw.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Draws {
    parts: Vec<Part>,
}

/// Why something cannot be drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DrawsError {
    /// No way fits.
    #[error("nothing that could be drawn fits the rules")]
    Nothing,
    /// More ways than can be numbered.
    #[error("one part of the draw has more than 2^63 ways, too many to number")]
    TooMany,
}

impl Part {
    /// Labels dealt in any order.
    pub const fn deal(counts: Vec<usize>) -> Self {
        Self::Deal {
            counts,
            longest_run: None,
        }
    }

    /// In how many ways it can fall out; nothing where they cannot be numbered.
    ///
    /// A deal without a limit on runs has n!/(c₁!·c₂!·…) ways; with one they are counted place by place.
    pub fn count(&self) -> Option<u64> {
        let count = match self {
            Self::Pick(n) => *n as u128,
            Self::Listed(list) => list.len() as u128,
            Self::Deal {
                counts,
                longest_run,
            } => Dealing::new(*longest_run).ways(counts, None)?,
        };
        u64::try_from(count).ok().filter(|count| *count < 1 << 63)
    }

    /// The way with that number, counted from 0 in the order of the dictionary.
    pub fn nth(&self, number: u64) -> Option<Vec<usize>> {
        match self {
            Self::Pick(n) => usize::try_from(number)
                .ok()
                .filter(|number| number < n)
                .map(|number| vec![number]),
            Self::Listed(list) => list.get(usize::try_from(number).ok()?).cloned(),
            Self::Deal {
                counts,
                longest_run,
            } => Dealing::new(*longest_run).nth(counts, u128::from(number)),
        }
    }

    /// Whether the part can fall out like this.
    pub fn allows(&self, way: &[usize]) -> bool {
        match self {
            Self::Pick(n) => matches!(way, [picked] if picked < n),
            Self::Listed(list) => list.iter().any(|listed| listed == way),
            Self::Deal {
                counts,
                longest_run,
            } => {
                let dealt = |label: usize| way.iter().filter(|place| **place == label).count();
                let all = (0..)
                    .zip(counts)
                    .all(|(label, count)| dealt(label) == *count);
                let short = longest_run
                    .is_none_or(|longest| way.chunk_by(|a, b| a == b).all(|r| r.len() <= longest));
                all && short && way.len() == counts.iter().sum::<usize>()
            }
        }
    }

    /// Whether exchanging the labels 0 and 1 gives a way again, for every way.
    fn is_mirrored(&self) -> bool {
        match self {
            Self::Pick(_) => false,
            Self::Deal { counts, .. } => matches!(counts.as_slice(), [a, b] if a == b),
            Self::Listed(list) => list.iter().all(|way| {
                let other: Vec<usize> = way.iter().map(|label| usize::from(*label == 0)).collect();
                list.contains(&other)
            }),
        }
    }

    /// Hands every way to `take`.
    pub(super) fn each(&self, mut take: impl FnMut(&[usize])) {
        match self {
            Self::Pick(n) => (0..*n).for_each(|picked| take(&[picked])),
            Self::Listed(list) => list.iter().for_each(|way| take(way)),
            Self::Deal {
                counts,
                longest_run,
            } => {
                let mut left = counts.clone();
                let places = counts.iter().sum();
                let mut way = Vec::with_capacity(places);
                deal_on(&mut left, places, *longest_run, &mut way, &mut take);
            }
        }
    }
}

impl Draws {
    /// # Errors
    /// [`DrawsError`] where a part can fall out in no way, or in too many.
    pub fn new(parts: Vec<Part>) -> Result<Self, DrawsError> {
        for part in &parts {
            match part.count() {
                None => return Err(DrawsError::TooMany),
                Some(0) => return Err(DrawsError::Nothing),
                Some(_) => {}
            }
        }
        if parts.is_empty() {
            return Err(DrawsError::Nothing);
        }
        Ok(Self { parts })
    }

    /// The parts.
    pub fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// In how many ways the whole can fall out.
    pub fn count(&self) -> f64 {
        let counts = self.parts.iter().filter_map(Part::count);
        counts.map(|count| count as f64).product()
    }

    /// Whether exchanging two labels everywhere gives a possible draw again, so that no two-sided p is below 2/count.
    pub fn is_mirrored(&self) -> bool {
        self.parts.iter().all(Part::is_mirrored)
    }

    /// Draws each part by its number: `below(n)` gives 0 to n − 1, each equally likely.
    pub fn draw(&self, mut below: impl FnMut(u64) -> u64) -> Vec<Vec<usize>> {
        let parts = self.parts.iter();
        parts
            .filter_map(|part| part.nth(below(part.count()?)))
            .collect()
    }

    /// Whether the whole can fall out like this.
    pub fn allows(&self, drawn: &[Vec<usize>]) -> bool {
        drawn.len() == self.parts.len()
            && self
                .parts
                .iter()
                .zip(drawn)
                .all(|(part, way)| part.allows(way))
    }
}

/// Puts one more label into every order that is still possible, in the order of the labels.
fn deal_on(
    left: &mut [usize],
    places: usize,
    longest_run: Option<usize>,
    way: &mut Vec<usize>,
    take: &mut impl FnMut(&[usize]),
) {
    if way.len() == places {
        take(way);
        return;
    }
    for label in 0..left.len() {
        let run = way.iter().rev().take_while(|last| **last == label).count();
        let Some(own) = left.get_mut(label).filter(|own| **own > 0) else {
            continue;
        };
        if longest_run.is_some_and(|longest| run >= longest) {
            continue;
        }
        *own -= 1;
        way.push(label);
        deal_on(left, places, longest_run, way, take);
        way.pop();
        if let Some(own) = left.get_mut(label) {
            *own += 1;
        }
    }
}

/// Counts the orders of dealt labels, remembering what it counted.
struct Dealing {
    longest_run: Option<usize>,
    known: HashMap<(Vec<usize>, usize, usize), u128>,
}

impl Dealing {
    fn new(longest_run: Option<usize>) -> Self {
        Self {
            longest_run,
            known: HashMap::new(),
        }
    }

    /// In how many orders `left` can follow; `after`: the last label and how often it stands running.
    fn ways(&mut self, left: &[usize], after: Option<(usize, usize)>) -> Option<u128> {
        let Some(longest) = self.longest_run else {
            return multinomial(left);
        };
        if left.iter().all(|count| *count == 0) {
            return Some(1);
        }
        let (last, run) = after.unwrap_or((usize::MAX, 0));
        let key = (left.to_vec(), last, run);
        if let Some(known) = self.known.get(&key) {
            return Some(*known);
        }
        let mut sum = 0_u128;
        for label in 0..left.len() {
            if let Some((rest, after)) = placed(left, label, after)
                && after.1 <= longest
            {
                sum = sum.checked_add(self.ways(&rest, Some(after))?)?;
            }
        }
        self.known.insert(key, sum);
        Some(sum)
    }

    fn nth(&mut self, counts: &[usize], mut number: u128) -> Option<Vec<usize>> {
        let mut left = counts.to_vec();
        let mut after = None;
        let mut way = Vec::new();
        while left.iter().any(|count| *count > 0) {
            let mut next = None;
            for label in 0..left.len() {
                let Some((rest, then)) = placed(&left, label, after) else {
                    continue;
                };
                if self.longest_run.is_some_and(|longest| then.1 > longest) {
                    continue;
                }
                let ways = self.ways(&rest, Some(then))?;
                if number < ways {
                    next = Some((rest, then));
                    break;
                }
                number -= ways;
            }
            let (rest, then) = next?;
            way.push(then.0);
            (left, after) = (rest, Some(then));
        }
        (number == 0).then_some(way)
    }
}

/// What is left once a label is placed, and how often it then stands running.
fn placed(
    left: &[usize],
    label: usize,
    after: Option<(usize, usize)>,
) -> Option<(Vec<usize>, (usize, usize))> {
    let mut rest = left.to_vec();
    let own = rest.get_mut(label).filter(|own| **own > 0)?;
    *own -= 1;
    let run = after
        .filter(|(last, _)| *last == label)
        .map_or(0, |(_, run)| run);
    Some((rest, (label, run + 1)))
}

/// n!/(c₁!·c₂!·…), as a product of binomials; nothing beyond 128 bits.
fn multinomial(counts: &[usize]) -> Option<u128> {
    let mut placed = 0_u128;
    let mut ways = 1_u128;
    for count in counts {
        for i in 1..=*count as u128 {
            placed += 1;
            // The product of i neighbours holds i!, so each division is exact.
            ways = ways.checked_mul(placed)? / i;
        }
    }
    Some(ways)
}
