//! The words of a procedure as they are shown: what differs from model to model is filled in.

use super::{Caution, Procedure, Step};
use crate::equipment::Model;
use crate::text::{Name, Words};

/// What a caution may leave to the model.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// How hot surfaces, steam and water get.
    HighestTemperature,
}

impl Place {
    pub const ALL: [Self; 1] = [Self::HighestTemperature];

    /// As it stands in the text.
    pub const fn mark(self) -> &'static str {
        match self {
            Self::HighestTemperature => "{highest_temperature}",
        }
    }

    fn filled(self, model: Option<&Model>) -> String {
        match self {
            Self::HighestTemperature => model
                .and_then(|model| model.highest_temperature_cel)
                .map_or_else(|| "scalding hot".into(), |highest| format!("hot, up to {highest} °C")),
        }
    }

    /// What stands in braces in the text and is no place.
    pub(super) fn unknown_in(text: &str) -> Option<&str> {
        let marked = text.split('{').skip(1).filter_map(|rest| rest.split_once('}')).map(|(name, _)| name);
        let known = |name: &str| Self::ALL.iter().any(|place| place.mark() == format!("{{{name}}}"));
        marked.into_iter().find(|name| !known(name))
    }
}

impl Caution {
    /// With its places filled; without a model, or where the model does not say, by words that warn of
    /// the worst.
    #[must_use]
    pub fn shown(&self, model: Option<&Model>) -> Self {
        let mut text = self.text.to_string();
        for place in Place::ALL {
            if text.contains(place.mark()) {
                text = text.replace(place.mark(), &place.filled(model));
            }
        }
        Self {
            text: Words::new(text).unwrap_or_else(|_| self.text.clone()),
            regulation: self.regulation.clone(),
        }
    }
}

impl Step {
    /// The title, and behind it how hot the stage is that it times.
    pub fn title_shown(&self, model: Option<&Model>) -> Name {
        let stage = self.stage().and_then(|stage| model?.stage_cel(stage));
        let with_stage = stage.and_then(|cel| Name::new(format!("{} ({cel} °C)", self.title)).ok());
        with_stage.unwrap_or_else(|| self.title.clone())
    }
}

impl Procedure {
    /// As a technician reads it who stands before such a machine, or before one that is not known.
    #[must_use]
    pub fn shown(&self, model: Option<&Model>) -> Self {
        let mut shown = self.clone();
        shown.cautions = self.cautions.iter().map(|caution| caution.shown(model)).collect();
        for step in &mut shown.steps {
            step.title = step.title_shown(model);
        }
        shown
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::equipment::demo_combi;
    use crate::procedure::built_in_procedures;

    fn heating() -> &'static Procedure {
        built_in_procedures().iter().find(|procedure| procedure.key.as_str() == "staged_heating").unwrap()
    }

    #[test]
    fn a_model_fills_in_its_temperatures() {
        let shown = heating().shown(Some(demo_combi()));
        assert!(shown.cautions[0].text.as_str().contains("are hot, up to 85 °C:"), "{:?}", shown.cautions);
        let titles: Vec<_> = shown.steps.iter().map(|step| step.title.as_str()).collect();
        assert_eq!(
            titles,
            [
                "Temperature at the start",
                "Time to the first stage (50 °C)",
                "Time to the second stage (65 °C)",
                "Time to the third stage (85 °C)",
            ]
        );
    }

    #[test]
    fn without_a_model_the_words_warn_of_the_worst() {
        let mut silent = demo_combi().clone();
        silent.highest_temperature_cel = None;
        for model in [None, Some(&silent)] {
            let shown = heating().shown(model);
            assert!(shown.cautions[0].text.as_str().contains("are scalding hot:"), "{:?}", shown.cautions);
        }
        assert_eq!(heating().shown(None).steps, heating().steps);
    }

    #[test]
    fn no_built_in_procedure_shows_a_mark() {
        for procedure in built_in_procedures() {
            let shown = serde_json::to_string(&procedure.shown(None)).unwrap();
            for place in Place::ALL {
                assert!(!shown.contains(place.mark()), "{}", procedure.key);
            }
        }
    }

    #[test]
    fn a_mark_that_is_no_place_is_found() {
        assert_eq!(Place::unknown_in("up to {highest_temperature}, {lowest} and {x"), Some("lowest"));
        assert_eq!(Place::unknown_in("{highest}"), Some("highest"));
        assert_eq!(Place::unknown_in("{highest_temperature}"), None);
        assert_eq!(Place::unknown_in("no braces"), None);
    }
}
