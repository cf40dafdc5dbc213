use crate::history::Code;

/// A time that was stopped, or given up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Timed {
    pub seconds: f64,
    pub reached: bool,
}

/// What the technician believes after his tests; `None` where he did not test.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Seen {
    pub static_bar: Option<f64>,
    pub dynamic_bar: Option<f64>,
    pub downstream_bar: Option<f64>,
    pub strainer: Option<Code>,
    pub valve_strainer: Option<Code>,
    pub fill: Option<Timed>,
    pub passed_ml: Option<f64>,
    pub level_fall_mm: Option<f64>,
    /// Over full.
    pub level_before: Option<f64>,
    pub stops_at: Option<f64>,
    pub strength: Option<Code>,
    pub hold: Option<Timed>,
    pub pattern: Option<Code>,
    /// Water under the machine while it washes.
    pub below: Option<Code>,
    /// Over the rated one.
    pub current: Option<f64>,
    pub hums: bool,
    pub drain: Option<Timed>,
    pub pour: Option<Code>,
    pub door: Option<Code>,
    pub test_magnet: Option<Code>,
    /// The pump ran with the door open: unsafe.
    pub pump_runs_open: bool,
    pub gasket: Option<Code>,
    pub buffer: Option<Code>,
    pub loaded: Option<Code>,
    pub delivered: Option<Code>,
    pub clarity: Option<Code>,
    /// Over what the model bears.
    pub hardness_mg_per_l: Option<f64>,
    pub steam: Option<Timed>,
    pub heating: Option<Timed>,
    pub probe_off_k: Option<f64>,
    /// Over the reference voltage.
    pub supply: Option<f64>,
    pub fill_output: Option<f64>,
    pub pump_output: Option<f64>,
    pub coil_open: Option<bool>,
    pub winding_open: Option<bool>,
    pub drain_winding_open: Option<bool>,
    pub element_open: Option<bool>,
    /// Over the marked one.
    pub capacitance: Option<f64>,
    pub insulation_mohm: Option<f64>,
    pub dried_mohm: Option<f64>,
    pub connectors: Option<Code>,
    pub board_wet: Option<bool>,
    pub misused: Option<bool>,
    pub cycle_ok: Option<bool>,
}
