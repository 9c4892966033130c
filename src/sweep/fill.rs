//! Filling a block of the result: rows of poses on packs of lanes, and the few that need it one by one.

use std::sync::atomic::Ordering;

use super::block::{Block, Source, Tray};
use super::share::Lookout;
use super::{Column, INPUTS, MOST_AXES, MOST_LANES, Quantity, RACK, ROLL, SETTINGS, Sweep, TRAVEL, Watch};
use crate::corner::{self, HardPoints, Side};
use crate::lanes::Work;
use crate::linkage::{Linkage, Status};
use crate::motion::Motion;
use crate::number::Pack;
use crate::pose::{self, Figures, PLACE_COUNT};
use crate::reading::{READING_COUNT, Reading, Wanted};
use crate::rig::{self, AtDesign, Rig};
use crate::setting::Setting;
use crate::space::{Point, Vector};
use crate::track::{Guess, Track};

/// Poses filled along a row in one go: few enough to stop soon when cancelled.
const RUN: usize = 512;
/// Of what is left, a thread takes one piece in so many for each thread.
const PIECES: usize = 4;
/// The most rows in a piece where they go side by side, and the most poses where they do not: progress is told by pieces.
const MOST_ROWS: usize = 256;
const MOST_POSES: usize = 1 << 16;
/// Travels between asking for the memory of a pack of poses and writing it: to fetch it takes as long as a pack.
const AHEAD: usize = 2;
/// The first fields of a setting are the mount's three: they move the top pivot and nothing else.
const MOUNT: usize = 3;

/// A sweep made ready to be computed.
#[allow(clippy::struct_excessive_bools)] // Facts about the sweep, each by itself.
pub(super) struct Job<'a> {
    sweep: &'a Sweep,
    watch: &'a Watch,
    row_axes: Vec<usize>,
    /// Travels in a row, and the stride of travel along it.
    steps: usize,
    travel_stride: usize,
    /// Whether the travels of every row are the same.
    rows_share_travels: bool,
    wanted: Wanted,
    places: bool,
    /// Whether knuckle, arm and tie rod are the same in every row.
    one_knuckle: bool,
    /// Whether the body rolls in any row.
    rolls: bool,
    /// Whether rows have hard points of their own.
    points_move: bool,
    /// What every row has of each input that does not vary.
    fixed: [f64; INPUTS],
    varies: [bool; INPUTS],
    body: Body,
    linkage: Linkage,
}

impl<'a> Job<'a> {
    pub(super) fn new(sweep: &'a Sweep, quantities: &[Quantity], watch: &'a Watch) -> Self {
        let along = sweep.travel_axis();
        let mut wanted = Wanted::NONE;
        let mut places = false;
        for quantity in quantities {
            match *quantity {
                Quantity::Reading(reading) => wanted = wanted.with(reading),
                Quantity::Place(place) => {
                    places = true;
                    if place.is_rate() {
                        wanted = wanted.with(Reading::SwingArmLength);
                    }
                }
            }
        }
        let body = Body::of(sweep);
        let fixed: [f64; INPUTS] = std::array::from_fn(|i| sweep.inputs[i].value(0));
        let setting = Setting::from_array(std::array::from_fn(|i| fixed[i]));
        let points_move = !(sweep.points.is_empty() && sweep.wheel.is_empty());
        Self {
            sweep,
            watch,
            row_axes: (0..sweep.grid.len()).filter(|&axis| Some(axis) != along).collect(),
            steps: along.map_or(1, |axis| sweep.grid[axis]),
            rows_share_travels: (0..sweep.grid.len())
                .all(|axis| Some(axis) == along || sweep.inputs[TRAVEL].stride(axis) == 0),
            travel_stride: along.map_or(0, |axis| sweep.inputs[TRAVEL].stride(axis)),
            wanted,
            places,
            one_knuckle: !points_move && !sweep.inputs[MOUNT..SETTINGS].iter().any(Column::varies),
            rolls: sweep.inputs[ROLL].values.iter().any(|&roll| roll != 0.0),
            points_move,
            fixed,
            varies: std::array::from_fn(|i| i != TRAVEL && sweep.inputs[i].varies()),
            linkage: Linkage::new(&body.points, &setting),
            body,
        }
    }

    /// Whether rows go side by side, so that the result is strips of rows, a strip a travel; else it is one strip, of
    /// all travels of all rows.
    pub(super) fn side_by_side(&self) -> bool {
        self.sweep.rows_go_side_by_side()
    }

    fn rows(&self) -> usize {
        self.sweep.poses / self.steps
    }

    /// Length of a strip of the result.
    pub(super) fn strip(&self) -> usize {
        if self.side_by_side() {
            self.rows()
        } else {
            self.sweep.poses
        }
    }

    /// How much to cut from strips of which so much is left: less towards the end, so that threads end together.
    pub(super) fn piece(&self, left: usize, threads: usize) -> usize {
        let share = left / (PIECES * threads);
        if self.side_by_side() {
            share.clamp(1, MOST_ROWS).next_multiple_of(MOST_LANES).min(left)
        } else {
            share.clamp(1, MOST_POSES).next_multiple_of(RUN).min(left)
        }
    }

    /// Where a row lies on the grid, travel aside.
    fn place(&self, row: usize) -> [usize; MOST_AXES] {
        let mut index = [0; MOST_AXES];
        let mut rest = row;
        for &axis in self.row_axes.iter().rev() {
            index[axis] = rest % self.sweep.grid[axis];
            rest /= self.sweep.grid[axis];
        }
        index
    }

    /// On to the next row.
    fn advance(&self, index: &mut [usize; MOST_AXES]) {
        for &axis in self.row_axes.iter().rev() {
            index[axis] += 1;
            if index[axis] < self.sweep.grid[axis] {
                return;
            }
            index[axis] = 0;
        }
    }

    /// What one row is about.
    fn row(&self, index: &[usize; MOST_AXES]) -> Row {
        let sweep = self.sweep;
        let index = &index[..sweep.grid.len()];
        let mut inputs = self.fixed;
        for ((input, column), varies) in inputs.iter_mut().zip(&sweep.inputs).zip(self.varies) {
            if varies {
                *input = column.values[column.offset(index)];
            }
        }
        Row {
            inputs,
            travel: sweep.inputs[TRAVEL].offset(index),
            own: self.points_move.then(|| Box::new(self.body.moved(sweep, index))),
        }
    }

    fn travel(&self, row: &Row, step: usize) -> f64 {
        self.sweep.inputs[TRAVEL].value(row.travel + step * self.travel_stride)
    }
}

/// Hard points, and what follows from them alone.
#[derive(Clone, Copy)]
struct Body {
    /// The left twin's.
    points: HardPoints,
    side: Side,
    shortest_link_mm: f64,
    plain_design: bool,
    makes_a_corner: bool,
}

impl Body {
    /// The sweep's own corner.
    fn of(sweep: &Sweep) -> Self {
        let points = sweep.corner.left_twin();
        Self::new(&points, sweep.corner.side(), &AtDesign::of(&points), sweep)
    }

    /// Of the left twin's points, and how they stand at design.
    fn new(points: &HardPoints, side: Side, at_design: &AtDesign, sweep: &Sweep) -> Self {
        Self {
            side,
            shortest_link_mm: at_design.shortest_link_mm,
            plain_design: at_design.is_plain(sweep.travel_at),
            makes_a_corner: true,
            points: *points,
        }
    }

    /// The sweep's corner, whose this is, with its points where they are at one place of the grid.
    fn moved(&self, sweep: &Sweep, index: &[usize]) -> Self {
        let mut points = *sweep.corner.points();
        for (point, column) in &sweep.points {
            let offset = column.offset(index);
            let at = [
                column.values[offset],
                column.values[offset + 1],
                column.values[offset + 2],
            ];
            point.place(&mut points, at.into());
        }
        for (figure, column) in &sweep.wheel {
            figure.put(&mut points, column.values[column.offset(index)]);
        }
        match corner::checked(&points) {
            Ok((side, at_design)) => Self::new(&side.left_twin(&points), side, &at_design, sweep),
            Err(_) => Self {
                makes_a_corner: false,
                ..*self
            },
        }
    }
}

/// One setting and one rack position, with the hard points they belong to.
struct Row {
    /// The inputs, travel aside.
    inputs: [f64; INPUTS],
    /// Where the row's travels start among the values of that input.
    travel: usize,
    /// Its hard points where they are not the same in every row.
    own: Option<Box<Body>>,
}

impl Row {
    fn body<'a>(&'a self, job: &'a Job<'_>) -> &'a Body {
        self.own.as_deref().unwrap_or(&job.body)
    }

    /// A pose that the short cut would not vouch for.
    #[cold]
    #[inline(never)]
    fn follow(&self, travel_mm: f64, job: &Job<'_>) -> (Figures, Status) {
        let body = self.body(job);
        if !body.makes_a_corner {
            return (Figures::NONE, Status::HardPoints);
        }
        // A cancelled sweep has no result: what is left of this block need not be right, only soon.
        if job.watch.is_cancelled() {
            return (Figures::NONE, Status::Reached);
        }
        let travel_at = job.sweep.travel_at;
        let motion = Motion {
            travel_mm,
            rack_mm: self.inputs[RACK],
            roll_deg: self.inputs[ROLL],
        };
        let motion = motion.of_left_twin(body.side);
        let setting = Setting::from_array(std::array::from_fn(|i| self.inputs[i]));
        let rig = Rig::new(&body.points, &setting);
        match rig.reach(&motion, travel_at) {
            Ok(t) => (Figures::of(&rig, body.side, t, &motion, travel_at), Status::Reached),
            Err(status) => (Figures::NONE, status),
        }
    }
}

/// Rows side by side, one a lane.
struct Group<N> {
    linkage: Linkage<N>,
    track: Track<N>,
    /// +1 for lanes of left corners, -1 for right ones.
    outboard: N,
    /// The most that a travel may be to count as small.
    small_travel: N,
    /// Lanes whose rows make a corner with a plain design, and have small inputs, travel aside.
    small: u32,
}

impl<N: Pack> Group<N> {
    #[inline(always)]
    fn new(job: &Job<'_>, rows: &[&Row; MOST_LANES]) -> Self {
        // What is the same in every row is one number in every lane: numbers written one by one and read as a pack have
        // to wait for each other.
        let mut inputs = [N::constant(0.0); INPUTS];
        for (i, input) in inputs.iter_mut().enumerate() {
            *input = if job.varies[i] {
                let mut values = [0.0; MOST_LANES];
                for (value, row) in values.iter_mut().zip(rows) {
                    *value = row.inputs[i];
                }
                N::load(&values)
            } else {
                N::constant(job.fixed[i])
            };
        }
        let mut fields = [N::constant(0.0); SETTINGS];
        fields.copy_from_slice(&inputs[..SETTINGS]);
        let setting = Setting::from_array(fields);
        let of_body = |of: &dyn Fn(&Body) -> f64| {
            if !job.points_move {
                return N::constant(of(&job.body));
            }
            let mut values = [0.0; MOST_LANES];
            for (value, row) in values.iter_mut().zip(rows) {
                *value = of(row.body(job));
            }
            N::load(&values)
        };
        let linkage = if job.one_knuckle {
            let mut linkage = job.linkage.lifted::<N>();
            linkage.top = job.body.points.strut_top.lifted::<N>() + setting.mount_shift();
            linkage
        } else if job.points_move {
            let point = |of: fn(&HardPoints) -> Point| {
                Point::new(
                    of_body(&|body| of(&body.points).x),
                    of_body(&|body| of(&body.points).y),
                    of_body(&|body| of(&body.points).z),
                )
            };
            let vector = |of: fn(&HardPoints) -> Vector| {
                Vector::new(
                    of_body(&|body| of(&body.points).x),
                    of_body(&|body| of(&body.points).y),
                    of_body(&|body| of(&body.points).z),
                )
            };
            let points = HardPoints {
                arm_front: point(|p| p.arm_front),
                arm_rear: point(|p| p.arm_rear),
                ball_joint: point(|p| p.ball_joint),
                strut_top: point(|p| p.strut_top),
                strut_low: point(|p| p.strut_low),
                // Rows that make no corner have none, though others have.
                strut_clamp: Some(point(|p| p.strut_clamp.unwrap_or(p.strut_low))),
                // Does not move: all rows have one, or none has.
                bearing_axis: (job.body.points.bearing_axis)
                    .map(|_| vector(|p| p.bearing_axis.unwrap_or(p.rack_direction))),
                tie_inner: point(|p| p.tie_inner),
                tie_outer: point(|p| p.tie_outer),
                wheel_centre: point(|p| p.wheel_centre),
                wheel_radius_mm: of_body(&|body| body.points.wheel_radius_mm),
                camber_deg: of_body(&|body| body.points.camber_deg),
                toe_deg: of_body(&|body| body.points.toe_deg),
                rack_direction: vector(|p| p.rack_direction),
            };
            Linkage::new(&points, &setting)
        } else {
            Linkage::new(&job.body.points.lifted(), &setting)
        };
        let outboard = of_body(&|body| body.side.outboard());
        let roll_deg = inputs[ROLL] * outboard;
        let linkage = if job.rolls { linkage.rolled(roll_deg) } else { linkage };
        let shortest_link = of_body(&|body| body.shortest_link_mm);
        let motion = Motion {
            travel_mm: N::constant(0.0),
            rack_mm: inputs[RACK],
            roll_deg,
        };
        let mut small = rig::small_inputs(
            &setting,
            &motion,
            shortest_link,
            of_body(&|body| body.points.wheel_centre.y),
        );
        for (lane, row) in rows.iter().enumerate() {
            let body = row.body(job);
            small &= !(u32::from(!(body.makes_a_corner && body.plain_design)) << lane);
        }
        Self {
            track: Track::new(&linkage, inputs[RACK], job.sweep.travel_at),
            linkage,
            outboard,
            small_travel: rig::small_travel_mm(shortest_link),
            small,
        }
    }
}

/// The figures of one pack of poses: room that every pack of a block uses in turn.
struct Figured<'a, N> {
    lookout: Option<&'a Lookout<'a>>,
    readings: [N; READING_COUNT],
    places: [Point<N>; PLACE_COUNT],
}

impl<'a, N: Pack> Figured<'a, N> {
    #[inline(always)]
    fn blank(lookout: Option<&'a Lookout<'a>>) -> Self {
        let zero = N::constant(0.0);
        Self {
            lookout,
            readings: [zero; READING_COUNT],
            places: [Point::new(zero, zero, zero); PLACE_COUNT],
        }
    }

    /// Find the poses at a travel and read them. Gives the lanes that are vouched for, and those that needed help.
    #[inline(always)]
    fn read(&mut self, job: &Job<'_>, group: &Group<N>, travel: N, guess: Guess<N>) -> (u32, u32) {
        let arrival = group.track.arrive(&group.linkage, travel, guess);
        let instant_centre = pose::look(
            &group.linkage,
            arrival.t,
            group.track.inner,
            &arrival.knuckle,
            job.sweep.travel_at,
            job.wanted,
            &mut self.readings,
        );
        if job.places {
            self.places = pose::places(&group.linkage, &arrival.knuckle, group.track.inner, instant_centre);
            for place in &mut self.places {
                place.y = place.y * group.outboard;
            }
        }
        (arrival.safe, arrival.again)
    }

    #[inline(always)]
    fn number(&self, source: Source) -> N {
        match source {
            Source::Reading(reading) => self.readings[reading],
            Source::Place(place, 0) => self.places[place].x,
            Source::Place(place, 1) => self.places[place].y,
            Source::Place(place, _) => self.places[place].z,
        }
    }
}

/// Fill a block of the result.
pub(super) struct Fill<'a, 'b> {
    pub(super) job: &'a Job<'a>,
    pub(super) block: Block<'b>,
    /// Of this thread, where rows go side by side and the result is larger than the caches.
    pub(super) tray: Option<&'a mut Tray>,
    /// Of the calling thread.
    pub(super) lookout: Option<&'a Lookout<'a>>,
}

impl Work for Fill<'_, '_> {
    type Result = ();

    #[inline(always)]
    fn run<N: Pack>(self) {
        let Self {
            job,
            mut block,
            mut tray,
            lookout,
        } = self;
        let mut figured = Figured::<N>::blank(lookout);
        let mut again = 0;
        let side_by_side = job.side_by_side();
        let at_once = if tray.is_some() {
            Tray::rows(&block)
        } else {
            block.length()
        };
        while block.length() > 0 {
            let part = block.cut(at_once.min(block.length()));
            let (mut part, places) = match &mut tray {
                Some(tray) => {
                    let (part, places) = tray.under(part);
                    (part, Some(places))
                }
                None => (part, None),
            };
            for strip in &mut part.status {
                strip.fill(Status::Reached.code());
            }
            let length = part.length();
            let mut done = 0;
            while done < length {
                // A cancelled sweep has no result: what is left of this block need not be filled.
                if job.watch.is_cancelled() {
                    return;
                }
                if let Some(lookout) = lookout {
                    lookout.now_and_then();
                }
                let at = part.start + done;
                if side_by_side {
                    let lanes = N::LANES.min(length - done);
                    // A tray is in the cache.
                    let fetch_ahead = places.is_none();
                    again += rows_side_by_side::<N>(job, &mut part, &mut figured, at, done, lanes, fetch_ahead);
                    done += lanes;
                } else {
                    // A block may end one row and begin another.
                    let (row, step) = (at / job.steps, at % job.steps);
                    let run = (job.steps - step).min(length - done).min(RUN - done % RUN);
                    again += along_a_row::<N>(job, &mut part, &mut figured, [row, step], done, run);
                    done += run;
                }
            }
            if let Some(places) = places {
                let from = part.outputs.iter().flat_map(|output| &output.strips);
                let to = places.into_iter().flat_map(|output| output.strips);
                N::copy_past_caches(from.map(|strip| &**strip).zip(to));
            }
        }
        job.watch.again.fetch_add(again as usize, Ordering::Relaxed);
    }
}

/// Rows from `first` on, one a lane, travel by travel; they lie at `done` of the block's strips.
#[inline(always)]
fn rows_side_by_side<N: Pack>(
    job: &Job<'_>,
    block: &mut Block<'_>,
    figured: &mut Figured<'_, N>,
    first: usize,
    done: usize,
    lanes: usize,
    fetch_ahead: bool,
) -> u32 {
    let mut index = job.place(first);
    let mut next = || {
        let row = job.row(&index);
        job.advance(&mut index);
        row
    };
    let head = next();
    let others: [Option<Row>; MOST_LANES - 1] = std::array::from_fn(|i| (i + 1 < lanes).then(&mut next));
    // Lanes without a row of their own go along with the first.
    let rows: [&Row; MOST_LANES] = std::array::from_fn(|lane| {
        let own = lane.checked_sub(1).and_then(|i| others[i].as_ref());
        own.unwrap_or(&head)
    });
    let group = Group::<N>::new(job, &rows);
    let mut again = 0;
    // Rows usually share their travels: one number in every lane, where eight written one by one and read as one would
    // have to wait for each other.
    let travel_at = |step: usize| {
        if job.rows_share_travels {
            return N::constant(job.travel(&head, step));
        }
        let mut travels = [0.0; MOST_LANES];
        for (travel, row) in travels.iter_mut().zip(rows) {
            *travel = job.travel(row, step);
        }
        N::load(&travels)
    };
    let mut travel = travel_at(0);
    let mut guess = group.track.guess(travel);
    for step in 0..job.steps {
        // The polynomial is a long chain of steps, each waiting for the last: the next pose's runs beside this pose's
        // other work.
        let next = travel_at((step + 1).min(job.steps - 1));
        let next_guess = group.track.guess(next);
        if fetch_ahead {
            fetch_to_write::<N>(block, step + AHEAD, [done, done + lanes]);
        }
        again += fill(job, block, figured, &group, &rows, travel, guess, lanes, [step, done]);
        (travel, guess) = (next, next_guess);
    }
    again
}

/// Travels of one row from `step` on, one a lane; they lie at `done` of the block's one strip.
#[inline(always)]
fn along_a_row<N: Pack>(
    job: &Job<'_>,
    block: &mut Block<'_>,
    figured: &mut Figured<'_, N>,
    [row, step]: [usize; 2],
    done: usize,
    run: usize,
) -> u32 {
    let row = job.row(&job.place(row));
    let rows = [&row; MOST_LANES];
    let group = Group::<N>::new(job, &rows);
    let mut again = 0;
    let mut at = 0;
    while at < run {
        let lanes = N::LANES.min(run - at);
        let mut travels = [0.0; MOST_LANES];
        for (lane, travel) in travels.iter_mut().enumerate() {
            *travel = job.travel(&row, step + at + lane.min(lanes - 1));
        }
        again += fill(
            job,
            block,
            figured,
            &group,
            &rows,
            N::load(&travels),
            group.track.guess(N::load(&travels)),
            lanes,
            [0, done + at],
        );
        at += lanes;
    }
    again
}

/// One pack of poses, from `place`, a strip and a place in it, on. Gives how many of them needed help.
#[inline(always)]
#[allow(clippy::too_many_arguments)] // What changes from pack to pack, and what does not.
fn fill<N: Pack>(
    job: &Job<'_>,
    block: &mut Block<'_>,
    figured: &mut Figured<'_, N>,
    group: &Group<N>,
    rows: &[&Row; MOST_LANES],
    travel: N,
    guess: Guess<N>,
    lanes: usize,
    place: [usize; 2],
) -> u32 {
    let (safe, again) = figured.read(job, group, travel, guess);
    write(block, figured, lanes, place);
    let valid = (1_u32 << lanes) - 1;
    let safe = safe & group.small & (-travel.magnitude()).at_least(-group.small_travel);
    if safe & valid != valid {
        let mut travels = [0.0; MOST_LANES];
        travel.store(&mut travels);
        follow(job, block, rows, &travels, safe, lanes, place, figured.lookout);
    }
    (again & valid).count_ones()
}

/// Ask for the memory of a pack of rows at a step, or, past the last, of the pack after it at a first one. Each strip is
/// far from the next, on a line that the processor would not guess.
#[inline(always)]
fn fetch_to_write<N: Pack>(block: &Block<'_>, step: usize, [at, at_next]: [usize; 2]) {
    let steps = block.status.len();
    let (step, at) = if step < steps {
        (step, at)
    } else {
        (step - steps, at_next)
    };
    for output in &block.outputs {
        let to = output.strips.get(step).and_then(|strip| strip.get(at..));
        // The pack's last number: where the pack lies across two lines the one before it has written to the first.
        // (Past the block lies another thread's memory.)
        let last = to.and_then(|to| to.get(N::LANES.min(to.len()).checked_sub(1)?..));
        if let Some(last) = last {
            N::fetch_to_write(last);
        }
    }
}

/// Write a pack's figures, vouched for or not, to their places.
#[inline(always)]
fn write<N: Pack>(block: &mut Block<'_>, figured: &Figured<'_, N>, lanes: usize, [strip, at]: [usize; 2]) {
    for output in &mut block.outputs {
        let number = figured.number(output.source);
        let to = &mut output.strips[strip][at..at + lanes];
        if lanes == N::LANES {
            number.store(to);
        } else {
            let mut numbers = [0.0; MOST_LANES];
            number.store(&mut numbers);
            to.copy_from_slice(&numbers[..lanes]);
        }
    }
}

/// Find those that were not vouched for along their paths, one by one.
#[cold]
#[inline(never)]
#[allow(clippy::too_many_arguments)] // As above.
fn follow(
    job: &Job<'_>,
    block: &mut Block<'_>,
    rows: &[&Row; MOST_LANES],
    travels: &[f64; MOST_LANES],
    safe: u32,
    lanes: usize,
    [strip, at]: [usize; 2],
    lookout: Option<&Lookout<'_>>,
) {
    for lane in (0..lanes).filter(|lane| safe >> lane & 1 == 0) {
        if let Some(lookout) = lookout {
            lookout.when_due();
        }
        let (figures, status) = rows[lane].follow(travels[lane], job);
        block.status[strip][at + lane] = status.code();
        for output in &mut block.outputs {
            output.strips[strip][at + lane] = match output.source {
                Source::Reading(reading) => figures.readings[reading],
                Source::Place(place, component) => <[f64; 3]>::from(figures.places[place])[component],
            };
        }
        job.watch.followed.fetch_add(1, Ordering::Relaxed);
    }
}
