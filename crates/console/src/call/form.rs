//! What the form of a call asks for, and what it says.

use application::Refusal;
use application::prepare_call::{Answer, NewCall, NewWorkOrder};
use application::see_kitchen::KitchenFile;
use domain::danger::Danger;
use domain::diagnosis::telling::TellingQuestion;
use domain::id::{ApplianceId, SiteId};
use domain::text::{Key, Words};
use domain::work::{ApplianceState, OrderKind, Urgency};
use uuid::Uuid;

use crate::fields::Fields;
use crate::order::moves::change::limit;

/// One of several that may be chosen.
pub(super) struct Choice {
    pub value: String,
    pub label: String,
    pub what: String,
    pub is_chosen: bool,
}

fn choice(value: &str, label: String, is_chosen: bool) -> Choice {
    Choice { value: value.to_owned(), label, what: String::new(), is_chosen }
}

/// What has been said so far.
pub(super) struct Asked {
    pub site: SiteId,
    pub appliance: Option<ApplianceId>,
    /// The complaint first.
    pub symptoms: Vec<Key>,
    pub dangers: Vec<Danger>,
    pub stop_use: bool,
    /// Question and answer.
    pub answers: Vec<(Key, Key)>,
}

fn invalid(name: &str, key: &str) -> Refusal {
    Refusal::invalid(format!("/{name}"), wording::say(key))
}

fn optional_id<T: TryFrom<Uuid>>(typed: &Fields, name: &str) -> Result<Option<T>, Refusal> {
    let Some(text) = typed.get(name) else { return Ok(None) };
    let id = text.parse::<Uuid>().ok().and_then(|id| T::try_from(id).ok());
    id.map(Some).ok_or_else(|| invalid(name, "fault-field-choice"))
}

fn id<T: TryFrom<Uuid>>(typed: &Fields, name: &str) -> Result<T, Refusal> {
    optional_id(typed, name)?.ok_or_else(|| invalid(name, "fault-field-needed"))
}

impl Asked {
    pub fn nothing(site: SiteId) -> Self {
        Self {
            site,
            appliance: None,
            symptoms: Vec::new(),
            dangers: Vec::new(),
            stop_use: false,
            answers: Vec::new(),
        }
    }

    pub fn of(typed: &Fields) -> Result<Self, Refusal> {
        let mut symptoms: Vec<Key> = Vec::new();
        for symptom in typed.all("complaint").chain(typed.all("symptom")).filter(|text| !text.is_empty()) {
            let symptom = Key::new(symptom).map_err(|_| invalid("symptom", "fault-field-choice"))?;
            if !symptoms.contains(&symptom) {
                symptoms.push(symptom);
            }
        }
        let dangers = typed.all("danger").map(str::parse).collect::<Result<_, _>>();
        Ok(Self {
            site: id(typed, "site")?,
            appliance: optional_id(typed, "machine")?,
            symptoms,
            dangers: dangers.map_err(|_| invalid("danger", "fault-field-choice"))?,
            stop_use: typed.raw("use") == "stop",
            answers: answers(typed)?,
        })
    }

    /// The call and the order that it opens.
    pub fn call(self, typed: &Fields) -> Result<(NewCall, NewWorkOrder), Refusal> {
        let words = typed.get("words").ok_or_else(|| invalid("words", "fault-no-words"))?;
        let words = Words::new(words).map_err(|error| Refusal::invalid("/words", error.to_string()))?;
        let urgency = typed.parse("urgency").and_then(Result::ok);
        let urgency: Urgency = urgency.ok_or_else(|| invalid("urgency", "fault-no-urgency"))?;
        let reason = typed.get("continued_use_reason").filter(|_| !self.stop_use && !self.dangers.is_empty());
        let reason = reason.map(Words::new).transpose();
        let said = self.answers.into_iter().map(|(question, answer)| {
            let answer = Words::new(answer.as_str());
            let answer = answer.map_err(|error| Refusal::invalid("/answers", error.to_string()))?;
            Ok(Answer { question, answer })
        });
        let said = said.collect::<Result<_, Refusal>>()?;
        let call = NewCall {
            id: id(typed, "call")?,
            site: self.site,
            contact: optional_id(typed, "contact")?,
            words,
            urgency,
            dangers: self.dangers,
            stop_use: self.stop_use,
            continued_use_reason: reason
                .map_err(|error| Refusal::invalid("/continued_use_reason", error.to_string()))?,
            answers: said,
            received_at: None,
        };
        let order = NewWorkOrder {
            id: id(typed, "order")?,
            call: Some(call.id),
            site: self.site,
            appliance: self.appliance,
            kind: OrderKind::Corrective,
            urgency,
            follows: None,
            spending_limit: limit(typed)?,
            symptoms: self.symptoms,
            received_at: None,
        };
        Ok((call, order))
    }
}

/// What was answered, from fields named after the questions; a question that was not asked says nothing.
fn answers(typed: &Fields) -> Result<Vec<(Key, Key)>, Refusal> {
    let said = typed.pairs().iter().filter_map(|(name, answer)| Some((name.strip_prefix("ask:")?, answer)));
    let said = said.filter(|(_, answer)| !answer.is_empty());
    said.map(|(question, answer)| {
        let unknown = || invalid("answers", "fault-field-choice");
        Ok((Key::new(question).map_err(|_| unknown())?, Key::new(answer.as_str()).map_err(|_| unknown())?))
    })
    .collect()
}

/// A question as it is put to the caller, and what he may answer.
pub(super) struct Question {
    pub name: String,
    pub words: String,
    pub answers: Vec<Choice>,
}

/// What was answered to a question, as people say it.
pub(crate) fn answer_in_words(question: &str, answer: &str) -> String {
    wording::term(&format!("answer-{}", question.replace('_', "-")), answer).into_owned()
}

pub(super) fn questions(telling: &[TellingQuestion], typed: &Fields) -> Vec<Question> {
    let question = |of: &TellingQuestion| {
        let name = format!("ask:{}", of.key);
        let said = typed.raw(&name);
        let answer = |key: &Key| {
            choice(key.as_str(), answer_in_words(of.key.as_str(), key.as_str()), said == key.as_str())
        };
        let mut answers: Vec<Choice> = of.answers.iter().map(answer).collect();
        answers.push(choice("", wording::say("call-not-asked"), said.is_empty()));
        let words = wording::term("ask", of.key.as_str()).into_owned();
        Question { name, words, answers }
    };
    telling.iter().map(question).collect()
}

pub(super) fn contacts(kitchen: &KitchenFile, typed: &Fields) -> Vec<Choice> {
    let known = kitchen.contacts.iter().filter_map(|contact| {
        let name = contact.name.as_ref()?;
        let label = match &contact.phone {
            Some(phone) => format!("{}, {}", name.as_str(), phone.as_str()),
            None => name.to_string(),
        };
        let id = contact.id.to_string();
        Some(choice(&id, label, typed.raw("contact") == id))
    });
    let mut contacts: Vec<Choice> = known.collect();
    let nobody =
        choice("", wording::say("somebody-else"), typed.get("contact").is_none() && contacts.is_empty());
    contacts.push(nobody);
    contacts
}

pub(super) fn machines(kitchen: &KitchenFile, typed: &Fields) -> Vec<Choice> {
    let stands = |state: ApplianceState| state != ApplianceState::Removed;
    let known =
        kitchen.machines.iter().filter(|(machine, _)| stands(machine.state)).map(|(machine, model)| {
            let id = machine.id.to_string();
            let serial =
                machine.serial.as_ref().map(|serial| format!(", {}", serial.as_str())).unwrap_or_default();
            let model = wording::text(model);
            let label = format!("{}, {model}{serial}", machine.position_label.as_str());
            choice(&id, label, typed.raw("machine") == id)
        });
    let mut machines = vec![choice("", wording::say("machine-not-known"), typed.get("machine").is_none())];
    machines.extend(known);
    machines
}

pub(super) fn dangers(typed: &Fields) -> Vec<Choice> {
    let danger = |danger: &Danger| {
        let word = danger.word();
        choice(word, wording::term("danger", word).into_owned(), typed.all("danger").any(|text| text == word))
    };
    Danger::ALL.iter().map(danger).collect()
}

pub(super) fn complaints(symptoms: &[(String, Option<String>)], typed: &Fields) -> Vec<Choice> {
    let mut complaints =
        vec![choice("", wording::say("call-no-complaint"), typed.get("complaint").is_none())];
    complaints.extend(symptoms.iter().map(|(key, what)| {
        let name = wording::term("symptom", key);
        let label =
            what.as_ref().map_or_else(|| name.to_string(), |what| format!("{name}: {}", wording::text(what)));
        choice(key, label, typed.raw("complaint") == key)
    }));
    complaints
}

pub(super) fn also(symptoms: &[(String, Option<String>)], typed: &Fields) -> Vec<Choice> {
    let symptom = |(key, _): &(String, Option<String>)| {
        let label = wording::term("symptom", key).into_owned();
        choice(key, label, typed.all("symptom").any(|text| text == key))
    };
    symptoms.iter().map(symptom).collect()
}

pub(super) fn urgencies(typed: &Fields) -> Vec<Choice> {
    let urgency = |urgency: &Urgency| {
        let word = urgency.word();
        let mut one = choice(word, wording::term("urgency", word).into_owned(), typed.raw("urgency") == word);
        one.what = wording::say(&format!("urgency-what-{}", word.replace('_', "-")));
        one
    };
    Urgency::ALL.iter().map(urgency).collect()
}

pub(super) fn uses(typed: &Fields) -> Vec<Choice> {
    let is_stopped = typed.raw("use") == "stop";
    vec![
        choice("go-on", wording::say("call-use-go-on"), !is_stopped),
        choice("stop", wording::say("call-use-stop"), is_stopped),
    ]
}
