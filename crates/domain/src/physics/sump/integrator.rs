//! The explicit Runge–Kutta pair of order 5(4) of Dormand and Prince with its continuous extension of
//! order 4 (Hairer, Nørsett, Wanner, Solving Ordinary Differential Equations I, II.5 and II.6), by the
//! method of steps for the delay (II.17): no step is longer than the delay, so what comes back is known.
//! Steps end where the solution has a corner: where the pump's flow jumps, where the volume crosses the
//! starving or the dry level, and one delay after each of these, as often as it can be felt.

use super::{PhysicsError, WashRun};

/// Corners lose one order of sharpness with each delay; after this many they are below the method's own.
const GENERATIONS: u32 = 5;
const MOST_ATTEMPTS: usize = 400_000;
/// A corner closer than this to the end of a step, in seconds, is at its end.
const AT_THE_END: f64 = 1e-9;
/// Closer than this, in litres, the volume is at a level.
const AT_THE_LEVEL: f64 = 1e-10;

/// The volume in the sump and the volume sprayed so far, in litres.
pub(super) type Pair = [f64; 2];

/// One step with its continuous extension.
#[derive(Debug, Clone, Copy)]
pub(super) struct Step {
    pub start: f64,
    pub length: f64,
    coefficients: [Pair; 5],
}

impl Step {
    pub fn end(&self) -> f64 {
        self.start + self.length
    }

    /// Volume and sprayed volume at a time within the step.
    pub fn at(&self, seconds: f64) -> Pair {
        let theta = ((seconds - self.start) / self.length).clamp(0.0, 1.0);
        let [r1, r2, r3, r4, r5] = self.coefficients;
        combine(|i| {
            r1[i] + theta * (r2[i] + (1.0 - theta) * (r3[i] + theta * (r4[i] + (1.0 - theta) * r5[i])))
        })
    }
}

/// The step that holds this time; the first or the last outside them.
pub(super) fn step_at(steps: &[Step], seconds: f64) -> Option<&Step> {
    let after = steps.partition_point(|step| step.start <= seconds);
    steps.get(after.saturating_sub(1))
}

/// The moment in `[low, high]` at which `reached` turns true, which is true at `high`.
pub(super) fn bisect(mut low: f64, mut high: f64, reached: impl Fn(f64) -> bool) -> f64 {
    while high - low > 1e-12 * high.max(1.0) {
        let middle = f64::midpoint(low, high);
        if reached(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    high
}

pub(super) fn integrate(run: &WashRun, tolerance: f64) -> Result<Vec<Step>, PhysicsError> {
    let end = run.duration.seconds();
    let delay = run.sump.return_delay.seconds();
    let longest = if delay > 0.0 { delay } else { end };
    let mut corners = Corners::new(run, end, delay);
    let mut steps: Vec<Step> = Vec::with_capacity(128);
    let (mut time, mut state) = (0.0, [run.start.litres(), 0.0]);
    let mut length = (0.01 * longest).min(end);

    // Attempts count, not steps alone, so that no input can keep it busy for ever.
    for _ in 0..MOST_ATTEMPTS {
        if time >= end {
            return Ok(steps);
        }
        let next_corner = corners.after(time).unwrap_or(end).min(end);
        let remaining = next_corner - time;
        // A rest too short for a step of its own is taken along.
        let trial = if remaining <= 1.0001 * length.min(longest) { remaining } else { length.min(longest) };
        let attempt = Attempt::make(run, &steps, time, state, trial);
        let error = attempt.error / tolerance;
        let growth = (0.9 * error.max(1e-10).powf(-0.2)).clamp(0.2, 5.0);
        if error > 1.0 {
            length = trial * growth;
            continue;
        }
        if let Some(crossing) = attempt.first_crossing(run) {
            // Taken again up to the corner, so that no step has one inside.
            corners.add(crossing);
            length = crossing - time;
            continue;
        }
        steps.push(attempt.step);
        time = if trial < remaining { time + trial } else { next_corner };
        state = attempt.arrived;
        length = trial * growth;
    }
    Err(PhysicsError::NotConverged { steps: MOST_ATTEMPTS })
}

/// Times at which steps must end, in order.
struct Corners {
    times: Vec<f64>,
    delay: f64,
}

impl Corners {
    fn new(run: &WashRun, end: f64, delay: f64) -> Self {
        let mut corners = Self { times: vec![end], delay };
        corners.add(0.0);
        if let Some(fade) = run.fade {
            corners.add(fade.after.seconds());
        }
        corners
    }

    fn add(&mut self, seconds: f64) {
        let generations = if self.delay > 0.0 { GENERATIONS } else { 0 };
        for generation in 0..=generations {
            let time = seconds + f64::from(generation) * self.delay;
            let place = self.times.partition_point(|&other| other < time);
            self.times.insert(place, time);
        }
    }

    fn after(&self, seconds: f64) -> Option<f64> {
        let place = self.times.partition_point(|&time| time <= seconds + AT_THE_END);
        self.times.get(place).copied()
    }
}

/// A step tried, with the estimate of its error.
struct Attempt {
    step: Step,
    arrived: Pair,
    error: f64,
}

impl Attempt {
    fn make(run: &WashRun, steps: &[Step], time: f64, state: Pair, length: f64) -> Self {
        // At a corner the flow takes its value just inside the step.
        let inside = |stage: f64| time + length * stage.clamp(1e-9, 1.0 - 1e-9);
        let slope = |stage: f64, [volume, _]: Pair| -> Pair {
            let now = inside(stage);
            let flow = run.pump_flow_at(now, volume);
            let before = now - run.sump.return_delay.seconds();
            let returning = if run.sump.return_delay.seconds() == 0.0 {
                flow
            } else if before <= 0.0 {
                0.0
            } else {
                let [volume_before, _] = step_at(steps, before).map_or(state, |step| step.at(before));
                run.pump_flow_at(before, volume_before)
            };
            let kept = 1.0 - run.lost_on_return.fraction();
            [run.inflow.litres_per_second() - flow + kept * returning, flow]
        };
        let from = |weights: &[(f64, Pair)]| -> Pair {
            combine(|i| state[i] + length * weights.iter().map(|(weight, k)| weight * k[i]).sum::<f64>())
        };
        let k1 = slope(0.0, state);
        let k2 = slope(0.2, from(&[(0.2, k1)]));
        let k3 = slope(0.3, from(&[(3.0 / 40.0, k1), (9.0 / 40.0, k2)]));
        let k4 = slope(0.8, from(&[(44.0 / 45.0, k1), (-56.0 / 15.0, k2), (32.0 / 9.0, k3)]));
        let k5 = slope(
            8.0 / 9.0,
            from(&[
                (19372.0 / 6561.0, k1),
                (-25360.0 / 2187.0, k2),
                (64448.0 / 6561.0, k3),
                (-212.0 / 729.0, k4),
            ]),
        );
        let k6 = slope(
            1.0,
            from(&[
                (9017.0 / 3168.0, k1),
                (-355.0 / 33.0, k2),
                (46732.0 / 5247.0, k3),
                (49.0 / 176.0, k4),
                (-5103.0 / 18656.0, k5),
            ]),
        );
        let arrived = from(&[
            (35.0 / 384.0, k1),
            (500.0 / 1113.0, k3),
            (125.0 / 192.0, k4),
            (-2187.0 / 6784.0, k5),
            (11.0 / 84.0, k6),
        ]);
        let k7 = slope(1.0, arrived);
        let difference = combine(|i| {
            length
                * (71.0 / 57600.0 * k1[i] - 71.0 / 16695.0 * k3[i] + 71.0 / 1920.0 * k4[i]
                    - 17253.0 / 339200.0 * k5[i]
                    + 22.0 / 525.0 * k6[i]
                    - 1.0 / 40.0 * k7[i])
        });
        let change = combine(|i| arrived[i] - state[i]);
        let bend = combine(|i| length * k1[i] - change[i]);
        let coefficients = [
            state,
            change,
            bend,
            combine(|i| change[i] - length * k7[i] - bend[i]),
            combine(|i| {
                length
                    * (-12715105075.0 / 11282082432.0 * k1[i] + 87487479700.0 / 32700410799.0 * k3[i]
                        - 10690763975.0 / 1880347072.0 * k4[i]
                        + 701980252875.0 / 199316789632.0 * k5[i]
                        - 1453857185.0 / 822651844.0 * k6[i]
                        + 69997945.0 / 29380423.0 * k7[i])
            }),
        ];
        Self {
            step: Step { start: time, length, coefficients },
            arrived,
            error: difference[0].abs().max(difference[1].abs()),
        }
    }

    /// The first moment at which the volume crosses the starving or the dry level inside the step.
    fn first_crossing(&self, run: &WashRun) -> Option<f64> {
        let levels = [run.sump.starving.litres(), run.sump.dry.litres()];
        let ([from, _], [to, _]) = (self.step.at(self.step.start), self.arrived);
        levels
            .into_iter()
            .filter(|level| {
                (from - level) * (to - level) < 0.0
                    && (from - level).abs() > AT_THE_LEVEL
                    && (to - level).abs() > AT_THE_LEVEL
            })
            .map(|level| {
                let falling = from > level;
                bisect(self.step.start, self.step.end(), |seconds| {
                    let [volume, _] = self.step.at(seconds);
                    if falling { volume <= level } else { volume >= level }
                })
            })
            .filter(|&crossing| crossing < self.step.end() - AT_THE_END)
            .reduce(f64::min)
    }
}

fn combine(component: impl Fn(usize) -> f64) -> Pair {
    [component(0), component(1)]
}
