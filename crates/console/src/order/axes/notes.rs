//! What people tell each other about the order, and what holds of its kitchen whoever comes.

use application::note::Note;
use application::site::Site;
use domain::standing_facts::StandingFact;

use super::{Axis, Item, Maker};
use crate::parts::moves::{Input, Move};

impl Maker<'_> {
    pub(super) fn notes(&self) -> Axis {
        let mut items: Vec<Item> = self.file.notes.iter().rev().map(|note| self.note(note)).collect();
        if items.is_empty() {
            items.push(Item::plain(wording::say("note-none")));
        }
        let form = Move::new("note", self.to("notes"), wording::say("note-add"))
            .with("id", (self.next_id)())
            .asking(Input::text("words", "field-noted", true))
            .asking(Input::perhaps_when("ring_back_at", "field-ring-back-at"));
        let moves = if self.may("create_note") { vec![form] } else { Vec::new() };
        self.axis("notes-axis", "axis-notes", items, moves)
    }

    fn note(&self, note: &Note) -> Item {
        let who = self.names(&[note.noted_by]);
        let due = note.ring_back_due().filter(|_| !self.file.order.state.has_ended());
        let mut variables = vec![("words", note.words.to_string().into()), ("who", who.into())];
        let key = match (due, note.settles) {
            (Some(at), _) => {
                variables.push(("at", self.clock(at).into()));
                "note-ring-back"
            }
            (None, Some(_)) => "note-rung",
            (None, None) => "note-stands",
        };
        let mut moves = Vec::new();
        if due.is_some() && self.may("create_note") {
            let rung = Move::new(format!("rung-{}", note.id), self.to("notes"), wording::say("note-ring"))
                .with("id", (self.next_id)())
                .with("settles", note.id)
                .asking(Input::text("words", "field-rung", true))
                .asking(Input::perhaps_when("ring_back_at", "field-ring-back-again"));
            moves.push(rung);
        }
        Item {
            at: Some(self.clock(note.noted_at)),
            text: wording::say_with(key, &variables),
            is_bad: due.is_some_and(|at| at <= self.file.now),
            moves,
            ..Item::default()
        }
    }

    pub(super) fn kitchen(&self) -> Axis {
        let mut items: Vec<Item> = facts(&self.file.site).into_iter().map(Item::plain).collect();
        if items.is_empty() {
            items.push(Item::plain(wording::say("facts-none")));
        }
        let may = self.may("update_standing_facts");
        let moves =
            if may { vec![facts_form(self.to("standing-facts"), &self.file.site)] } else { Vec::new() };
        self.axis("kitchen-axis", "axis-kitchen", items, moves)
    }
}

/// What is known of a kitchen, each a line.
pub(crate) fn facts(site: &Site) -> Vec<String> {
    let line = |(fact, words): (&StandingFact, &domain::text::Words)| {
        let what = wording::term("standing-fact", fact.word()).into_owned();
        wording::say_with("fact-stands", &[("what", what.into()), ("words", words.to_string().into())])
    };
    site.standing_facts.iter().map(line).collect()
}

/// Tells all of it at once; what is left empty is not known.
pub(crate) fn facts_form(to: String, site: &Site) -> Move {
    let form = Move::new("facts", to, wording::say("facts-tell")).with("version", site.version);
    StandingFact::ALL.iter().fold(form, |form, fact| {
        let known = site.standing_facts.get(fact).map(ToString::to_string).unwrap_or_default();
        let label = wording::term("standing-fact", fact.word()).into_owned();
        form.asking(Input::Text { name: fact.word().to_owned(), label, value: known, is_needed: false })
    })
}
