//! What the service makes of a call while it is taken; nothing of it is stored.

use application::prepare_call::CallInMaking;

use wording::diagnosis as words;

use crate::parts::against;
use crate::parts::chains::ChainRow;
use crate::when;

#[derive(Default)]
pub(super) struct Beside {
    pub cautions: Vec<String>,
    pub been_before: Vec<(i64, String)>,
    pub open_here: Vec<(i64, String)>,
    /// How the kitchen stands beside others, and what came back on the machine.
    pub against: Option<String>,
    pub chains: Vec<ChainRow>,
    pub likely: Option<String>,
    pub sets: Vec<String>,
    pub bring: Vec<String>,
}

impl Beside {
    pub fn of(answer: &CallInMaking) -> Self {
        let kitchen = &answer.kitchen;
        let before = answer.been_before.iter().map(|before| {
            let symptoms: Vec<_> =
                before.symptoms.iter().map(|symptom| wording::term("symptom", symptom.as_str())).collect();
            let variables = [
                ("what", symptoms.join(", ").into()),
                ("span", when::since(before.received_at, kitchen.now).into()),
            ];
            let key = if before.is_open { "call-before-open" } else { "call-before" };
            (before.number, wording::say_with(key, &variables))
        });
        let open = kitchen.open.iter().map(|line| {
            let machine = line.order.position_label.clone();
            let machine = machine.unwrap_or_else(|| wording::say("machine-not-known"));
            let state = wording::term("order-state", line.order.state.word());
            (line.order.number, format!("{machine}: {state}"))
        });
        let mut beside = Self {
            cautions: answer.precautions.iter().map(|of| crate::parts::caution(*of)).collect(),
            been_before: before.collect(),
            open_here: open.collect(),
            against: kitchen
                .repeats
                .whole
                .as_ref()
                .map(|standing| against::sentence(standing, kitchen.repeats.window.days())),
            chains: answer.came_back().map(|chain| ChainRow::of(chain, kitchen.now)).collect(),
            ..Self::default()
        };
        match &answer.likely {
            Some(Ok(diagnosed)) => {
                let diagnosis = &diagnosed.diagnosis;
                beside.likely = Some(words::sentence(diagnosis));
                beside.sets =
                    diagnosis.sets.iter().take(3).map(|set| words::of_set(diagnosis, set)).collect();
                let parts = diagnosis.parts.parts.iter().take(3).filter(|part| part.needed >= 0.05);
                beside.bring = parts
                    .map(|part| {
                        let name = wording::term("part", part.part.as_str()).into_owned();
                        let variables = [
                            ("part", name.into()),
                            ("needed", crate::order::percent(part.needed).into()),
                            ("ends", crate::order::percent(part.ends_job).into()),
                        ];
                        wording::say_with("bring-part", &variables)
                    })
                    .collect();
            }
            Some(Err(why)) => beside.likely = Some(why.clone()),
            None => {}
        }
        beside
    }
}
