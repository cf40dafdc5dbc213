//! The least of a smooth function of few variables, and where one rises through zero.

/// Trials of a simplex at the most; it is begun anew from what it found until that stands.
const TRIALS: usize = 400;
const BEGINNINGS: usize = 6;
/// So little better is no better.
const SETTLED: f64 = 1e-11;

/// Where a function is least, and how small it is there: the simplex of Nelder and Mead, 1965. Of no variables: its value.
pub(super) fn minimum(start: Vec<f64>, function: impl Fn(&[f64]) -> f64) -> (Vec<f64>, f64) {
    let mut best = (function(&start), start);
    for _ in 0..BEGINNINGS {
        let found = simplex(&best.1, &function);
        let is_settled = best.0 - found.0 <= SETTLED * (1.0 + found.0.abs());
        if found.0 <= best.0 {
            best = found;
        }
        if is_settled {
            break;
        }
    }
    (best.1, best.0)
}

type Corner = (f64, Vec<f64>);

fn simplex(start: &[f64], function: &impl Fn(&[f64]) -> f64) -> Corner {
    let variables = start.len();
    let corner = |at: Vec<f64>| (function(&at), at);
    let mut corners: Vec<Corner> = vec![corner(start.to_vec())];
    for variable in 0..variables {
        let mut at = start.to_vec();
        at[variable] += 0.25 * at[variable].abs().max(0.2);
        corners.push(corner(at));
    }
    for _ in 0..TRIALS * variables {
        corners.sort_by(|one, other| one.0.total_cmp(&other.0));
        let (least, worst) = (corners[0].0, corners[variables].0);
        let width =
            (0..variables).map(|v| (corners[variables].1[v] - corners[0].1[v]).abs()).fold(0.0, f64::max);
        if worst - least <= 1e-14 * (1.0 + least.abs()) && width <= 1e-6 {
            break;
        }
        let centre: Vec<f64> = (0..variables)
            .map(|v| corners[..variables].iter().map(|corner| corner.1[v]).sum::<f64>() / variables as f64)
            .collect();
        let along = |part: f64| {
            let last = &corners[variables].1;
            corner(centre.iter().zip(last).map(|(centre, last)| centre + part * (centre - last)).collect())
        };
        let mirrored = along(1.0);
        let better = if mirrored.0 < least {
            let further = along(2.0);
            if further.0 < mirrored.0 { further } else { mirrored }
        } else if mirrored.0 < corners[variables - 1].0 {
            mirrored
        } else {
            let inner = along(if mirrored.0 < worst { 0.5 } else { -0.5 });
            if inner.0 < worst.min(mirrored.0) {
                inner
            } else {
                let (first, others) = corners.split_at_mut(1);
                for other in others {
                    let at = first[0].1.iter().zip(&other.1).map(|(first, other)| 0.5 * (first + other));
                    *other = corner(at.collect());
                }
                continue;
            }
        };
        corners[variables] = better;
    }
    corners.sort_by(|one, other| one.0.total_cmp(&other.0));
    corners.swap_remove(0)
}

/// Where a function that is below zero at `from` rises to it, going by factors of `step`; none where it does not within what
/// anybody would read. Halved on the logarithm, and sped up by the chord.
pub(super) fn crossing(from: f64, step: f64, function: impl Fn(f64) -> f64) -> Option<f64> {
    const FURTHEST: u32 = 40;
    let (mut inside, mut outside) = (from.ln(), from.ln());
    let (mut below, mut above) = (f64::NAN, f64::NAN);
    for _ in 0..FURTHEST {
        outside += step.ln();
        above = function(outside.exp());
        if above >= 0.0 {
            break;
        }
        (inside, below) = (outside, above);
    }
    if above.is_nan() || above < 0.0 {
        return None;
    }
    if below.is_nan() {
        below = function(inside.exp());
    }
    // Illinois: the chord, with the end that stays made lighter whenever it stays again.
    let mut stayed = 0;
    for _ in 0..60 {
        let chord = (inside * above - outside * below) / (above - below);
        let is_within = (chord - inside) * (chord - outside) < 0.0;
        let at = if is_within { chord } else { 0.5 * (inside + outside) };
        let value = function(at.exp());
        if value.abs() < 1e-9 || (outside - inside).abs() < 1e-10 {
            return Some(at.exp());
        }
        if value < 0.0 {
            above *= if stayed == 1 { 0.5 } else { 1.0 };
            (inside, below, stayed) = (at, value, 1);
        } else {
            below *= if stayed == -1 { 0.5 } else { 1.0 };
            (outside, above, stayed) = (at, value, -1);
        }
    }
    Some(outside.exp())
}
