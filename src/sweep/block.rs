//! Blocks of a sweep's result: which places a piece of work fills, and the tray on which large results are put down first.

use super::{MOST_LANES, Quantity};

/// Bytes of a tray, more or less: most of the second cache of a machine of these years.
const TRAY: usize = 512 << 10;
/// Numbers in a line of the cache.
const LINE: usize = 8;

/// Where in a pose's figures a number of the result comes from.
#[derive(Clone, Copy, Debug)]
pub(super) enum Source {
    Reading(usize),
    Place(usize, usize),
}

impl Quantity {
    pub(super) const fn source(self, component: usize) -> Source {
        match self {
            Self::Reading(reading) => Source::Reading(reading as usize),
            Self::Place(place) => Source::Place(place as usize, component),
        }
    }
}

/// A unit of work, and the places in the result that it fills: as many strips as the job has, cut from each column at
/// the same place.
pub(super) struct Block<'a> {
    /// Where it was cut from the strips.
    pub(super) start: usize,
    pub(super) status: Vec<&'a mut [i8]>,
    pub(super) outputs: Vec<Output<'a>>,
}

impl<'a> Block<'a> {
    /// The whole result, each column cut into strips of this length.
    pub(super) fn whole(
        quantities: &[Quantity],
        outputs: Vec<&'a mut [f64]>,
        status: &'a mut [i8],
        strip: usize,
    ) -> Self {
        let poses = status.len();
        let parts = |(quantity, column): (&Quantity, &'a mut [f64])| {
            column
                .chunks_mut(poses)
                .enumerate()
                .map(|(component, whole)| Output {
                    source: quantity.source(component),
                    strips: whole.chunks_mut(strip).collect(),
                })
                .collect::<Vec<_>>()
        };
        Self {
            start: 0,
            outputs: quantities.iter().zip(outputs).flat_map(parts).collect(),
            status: status.chunks_mut(strip).collect(),
        }
    }

    /// Cut off the first so many of every strip.
    pub(super) fn cut(&mut self, length: usize) -> Self {
        let start = self.start;
        self.start += length;
        Self {
            start,
            status: first_of_each(&mut self.status, length),
            outputs: self
                .outputs
                .iter_mut()
                .map(|output| Output {
                    source: output.source,
                    strips: first_of_each(&mut output.strips, length),
                })
                .collect(),
        }
    }

    /// How much is left of every strip.
    pub(super) fn length(&self) -> usize {
        self.status.first().map_or(0, |strip| strip.len())
    }

    pub(super) fn poses(&self) -> usize {
        self.status.len() * self.length()
    }
}

fn first_of_each<'a, T>(strips: &mut [&'a mut [T]], length: usize) -> Vec<&'a mut [T]> {
    strips
        .iter_mut()
        .map(|strip| strip.split_off_mut(..length).unwrap_or_default())
        .collect()
}

/// One number a pose, and where it goes.
pub(super) struct Output<'a> {
    pub(super) source: Source,
    pub(super) strips: Vec<&'a mut [f64]>,
}

/// Where rows side by side are put down first, if the result is larger than the caches. Each pack by itself would fetch
/// one line of memory for each column at each travel, lines far apart; from here, they go there in runs, past the caches.
#[derive(Default)]
pub(super) struct Tray(Vec<f64>);

impl Tray {
    /// How many rows of a block go on the tray at once: a pack at least.
    pub(super) fn rows(block: &Block<'_>) -> usize {
        let numbers = block.status.len() * block.outputs.len();
        let rows = TRAY / size_of::<f64>() / numbers.max(1) / MOST_LANES * MOST_LANES;
        rows.max(MOST_LANES)
    }

    /// Take a block's places in the result away, and give it places on the tray instead.
    pub(super) fn under<'a, 'b>(&'a mut self, block: Block<'b>) -> (Block<'a>, Vec<Output<'b>>)
    where
        'b: 'a,
    {
        let rows = block.length();
        // Strips begin with a line of the cache each, and not all at the same place of it.
        let pitch = rows.next_multiple_of(LINE) + LINE;
        let strips = block.status.len();
        let wanted = strips * block.outputs.len() * pitch + LINE;
        if self.0.len() < wanted {
            self.0.resize(wanted, 0.0);
        }
        let to_line = self.0.as_ptr().addr().wrapping_neg() % (LINE * size_of::<f64>()) / size_of::<f64>();
        let mut places = self.0[to_line..]
            .chunks_exact_mut(pitch)
            .map(|place| &mut place[..rows]);
        let outputs = block
            .outputs
            .iter()
            .map(|output| Output {
                source: output.source,
                strips: places.by_ref().take(strips).collect(),
            })
            .collect();
        let on_tray = Block {
            start: block.start,
            status: block.status,
            outputs,
        };
        (on_tray, block.outputs)
    }
}
