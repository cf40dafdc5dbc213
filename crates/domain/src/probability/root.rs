/// The root of a rising function by Newton's method from `start`, kept inside a bracket that is first
/// widened from `width` and then only shrinks, so that a bad step becomes a bisection. `function`
/// gives the value and the slope. Where the function has no root the last end of the bracket is
/// returned; callers choose functions that have one.
pub fn increasing_root(start: f64, width: f64, function: impl Fn(f64) -> (f64, f64)) -> f64 {
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    let (mut x, mut reach) = (start, width);
    for _ in 0..300 {
        let (value, slope) = function(x);
        if value == 0.0 {
            return x;
        }
        if value < 0.0 {
            low = low.max(x);
        } else {
            high = high.min(x);
        }
        let newton = x - value / slope;
        let bracketed = low.is_finite() && high.is_finite();
        // Outside a bracket a flat tail would throw Newton far off: go no further than the reach.
        let next = if bracketed {
            if newton > low && newton < high { newton } else { 0.5 * (low + high) }
        } else {
            let step = if newton.is_finite() { (newton - x).clamp(-reach, reach) } else { 0.0 };
            reach *= 2.0;
            if step == 0.0 { x - reach * value.signum() } else { x + step }
        };
        let settled = (next - x).abs() <= 4.0 * f64::EPSILON * next.abs().max(f64::MIN_POSITIVE);
        x = next;
        if settled || (bracketed && high - low <= 2.0 * f64::EPSILON * high.abs().max(low.abs())) {
            return x;
        }
    }
    x
}
