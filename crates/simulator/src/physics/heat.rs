use super::command::Output;
use super::fill::voltage;
use super::machine::{Machine, Surroundings};
use crate::defect::{Defect, Severities, remains};
use crate::random::Random;

/// A staged heating as it really went; times are by the machine's own probe.
#[derive(Debug, Clone, PartialEq)]
pub struct Heating {
    /// To each stage of the wash, in s; `None` if not reached in the time allowed.
    pub to_stage_s: Vec<Option<f64>>,
    pub start_cel: f64,
}

/// The steam check.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steam {
    /// From command to steady steam; `None` if it did not come.
    pub seconds: Option<f64>,
    /// Over the new generator's.
    pub strength: f64,
}

impl Machine {
    /// kW that the elements give.
    pub fn heating_kw(&self, severities: &Severities, surroundings: &Surroundings) -> f64 {
        let design = &self.design;
        let volts = voltage(severities, surroundings);
        // one burns out; with what feeds them all is lost
        let lost = match severities[Defect::ElementOpen] {
            none if none < Defect::NOTICEABLE => 0.0,
            one if one < 0.85 => 1.0,
            two if two < 1.0 => 2.0,
            _ => f64::from(design.elements),
        };
        let whole = f64::from(design.elements) * design.element_kw;
        // the elements hang between phase and neutral: one that is open takes its own share only
        whole * (1.0 - lost / f64::from(design.elements.max(1))).max(0.0) * volts * volts * self.power
    }

    /// Where the safety cut-out opens, °C: far above all stages while it is sound, and at once when it has
    /// failed entirely.
    pub fn cut_out_cel(&self, severities: &Severities) -> f64 {
        let opens = severities[Defect::CutOutOpens];
        if opens < 0.1 { f64::INFINITY } else { 20.0 + 76.0 * remains(opens, 0.45) }
    }

    /// What the probe shows above the truth, K.
    pub fn probe_error_cel(&self, severities: &Severities) -> f64 {
        let drift = severities[Defect::ProbeDrifted];
        15.0 * drift * if self.level_error < 0.0 { -1.0 } else { 1.0 }
    }

    pub fn heat(
        &self,
        severities: &Severities,
        surroundings: &Surroundings,
        for_s: f64,
        random: &mut Random,
    ) -> Heating {
        const STEP: f64 = 2.0;
        let start = surroundings.water_cel;
        let power = if self.commanded(Output::Heater, severities, random) {
            self.heating_kw(severities, surroundings)
        } else {
            0.0
        };
        // scale on the elements holds the heat back from the water
        let scale = 1.0 - 0.25 * severities[Defect::SteamGeneratorScaled];
        let water = self.full_l() * 4.18;
        let steel = self.design.steel_kj_per_k;
        let (fast, slow) = (water + 0.4 * steel, 0.6 * steel);
        let (mut air, mut wall, mut shown) = (start, start, start);
        let error = self.probe_error_cel(severities);
        let stages = &self.design.wash_stages_cel;
        let mut reached = vec![None; stages.len()];
        let (opens_at, mut cut) = (self.cut_out_cel(severities), false);
        let mut time = 0.0;
        while time < for_s && reached.iter().any(Option::is_none) {
            let loss = self.design.loss_kw * (air - start).max(0.0) / 60.0;
            let exchange = 0.35 * (air - wall);
            // it closes again some degrees below
            cut = air >= opens_at || (cut && air > opens_at - 4.0);
            let power = if cut { 0.0 } else { power };
            air = (air + (power * scale - loss - exchange) / fast * STEP).min(surroundings.boiling_cel);
            wall += exchange / slow * STEP;
            shown += (air - shown) * STEP / 8.0;
            time += STEP;
            for (stage, at) in stages.iter().zip(&mut reached) {
                if at.is_none() && shown + error >= *stage {
                    *at = Some(time);
                }
            }
        }
        Heating { to_stage_s: reached, start_cel: start }
    }

    /// Steam over the new generator's, while the controls ask for it.
    pub fn steam_strength(&self, severities: &Severities, surroundings: &Surroundings) -> f64 {
        let scaled = severities[Defect::SteamGeneratorScaled];
        let whole = f64::from(self.design.elements) * self.design.element_kw;
        let power = self.heating_kw(severities, surroundings) / whole;
        // what evaporates is little, a fraction of a litre a minute
        let feed = (self.expected_fill_flow(severities, surroundings) / 0.6).min(1.0);
        let level = 1.0 - 0.5 * severities[Defect::LevelSensorFouled];
        // steam is hotter than any stage
        let cut = if self.cut_out_cel(severities) < 90.0 { 0.3 } else { 1.0 };
        power * remains(scaled, 0.85) * feed * level * cut
    }

    pub fn steam(&self, severities: &Severities, surroundings: &Surroundings, random: &mut Random) -> Steam {
        let strength = self.steam_strength(severities, surroundings);
        let arrives = self.commanded(Output::Heater, severities, random);
        Steam {
            seconds: (arrives && strength > 0.2).then(|| 58.0 / strength * random.factor(0.06)),
            strength: if arrives { strength } else { 0.0 },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::machine::{Design, calm_surroundings, worked_design};
    use super::*;

    /// Of the worked machine with stages of 55, 70 and 92 °C (common practice, no source).
    fn usual_of_the_trade() -> Machine {
        let design = (*worked_design()).clone();
        Machine::nominal(Design { wash_stages_cel: vec![55.0, 70.0, 92.0], ..design }.into())
    }

    fn to_92(severities: &Severities, voltage: f64) -> f64 {
        let machine = usual_of_the_trade();
        let surroundings = Surroundings { voltage, ..calm_surroundings(3.0) };
        machine.heat(severities, &surroundings, 3600.0, &mut Random::new(1, 1)).to_stage_s[2].unwrap()
    }

    /// Worked with one lump and a constant loss: 271.5 s sound, 422.4 s with one element open, 340.9 s
    /// at nine tenths of the voltage. Lag and a loss that grows move them a little, not their ratios.
    #[test]
    fn heating_times_are_near_the_worked_ones() {
        let sound = to_92(&Severities::default(), 1.0);
        assert!((240.0..300.0).contains(&sound), "{sound}");
        let open = to_92(&Severities::default().with(Defect::ElementOpen, 0.6), 1.0) / sound;
        assert!((open - 422.4 / 271.5).abs() < 0.1, "{open}");
        let low = to_92(&Severities::default(), 0.9) / sound;
        assert!((low - 340.9 / 271.5).abs() < 0.06, "{low}");
    }

    #[test]
    fn a_cut_out_that_opens_early_stops_the_last_stage_and_not_the_first() {
        let machine = Machine::nominal(worked_design());
        let early = Severities::default().with(Defect::CutOutOpens, 0.6);
        let heating =
            machine.heat(&early, &calm_surroundings(3.0), 3600.0, &mut Random::new(1, 1)).to_stage_s;
        assert!(heating[0].is_some() && heating[2].is_none(), "{heating:?}");
    }

    #[test]
    fn high_up_the_last_stage_is_out_of_reach() {
        let machine = usual_of_the_trade();
        let surroundings = Surroundings { boiling_cel: 91.7, ..calm_surroundings(3.0) };
        let heating = machine.heat(&Severities::default(), &surroundings, 3600.0, &mut Random::new(1, 1));
        assert!(heating.to_stage_s[1].is_some() && heating.to_stage_s[2].is_none());
    }
}
