//! The first day: people, kitchens, machines, and the stories for a newcomer.

use std::collections::BTreeMap;

use domain::id::SiteId;
use domain::quantity::{Alkalinity, AsRead, Conductivity, Hardness, MassConcentration, Ph, Temperature};
use domain::site_water::{SamplePoint, WaterSample};
use domain::text::Text;

use super::branch::Branch;
use super::job::Task;
use super::site::{Site, Technician, Unit};
use crate::ageing::{self, Stress};
use crate::clock::{DAY, HOUR, MINUTE, Moment, moment, timestamp};
use crate::defect::Defect;
use crate::history::{
    Appliance, Branch as BranchEntry, Contact, Customer, Entry, FittedPart, Person, Site as SiteEntry,
    SiteWater, Store,
};
use crate::kitchen::{KINDS, Kind, Kitchen, TOWNS};
use crate::people::{Habits, names};

/// Where kitchens stand; one zone, so that a month of a report is the same for all.
const TIME_ZONE: &str = "Europe/Lisbon";
const KITCHENS_OF_A_TECHNICIAN: usize = 14;
const PLACES: [&str; 7] =
    ["Main line", "Pastry", "Banqueting", "Cold kitchen", "Upper deck", "Annex", "Pot wash"];

impl Branch {
    pub(super) fn set_up(&mut self) {
        let start = moment(self.settings.start);
        let begun = self.index * self.settings.kitchens_of_a_branch;
        let kitchens = self.settings.kitchens_of_a_branch.min(self.settings.kitchens - begun);
        let town = self.index % TOWNS.len();
        self.people(start, TOWNS[town].name, kitchens);
        for kitchen in 0..kitchens {
            // a branch serves its own town and the next two
            let town = &TOWNS[(town + self.random.below(3)) % TOWNS.len()];
            let kind = &KINDS[(begun + kitchen + self.random.below(3)) % KINDS.len()];
            self.kitchen(start, kind, town, begun + kitchen);
        }
    }

    fn people(&mut self, start: Moment, town: &str, kitchens: usize) {
        let number = self.index + 1;
        let name = format!("{town} branch {number}");
        let (dispatcher, branch, depot) = (self.dispatcher, self.id, self.depot);
        self.emit(start, dispatcher, Entry::Branch(BranchEntry { id: branch, name }));
        let name = names::person(&mut self.random);
        let role = "dispatcher";
        self.emit(
            start,
            dispatcher,
            Entry::Person(Person { id: dispatcher, branch, name, role, skills: vec![] }),
        );
        let name = format!("Depot {town} {number}");
        self.emit(start, dispatcher, Entry::Store(Store { id: depot, branch, person: None, name }));
        for count in 0..kitchens.div_ceil(KITCHENS_OF_A_TECHNICIAN).max(2) {
            let (id, van) = (self.new_id(start), self.new_id(start));
            let name = names::person(&mut self.random);
            let habits = Habits::drawn(&mut self.random);
            let person = Person {
                id,
                branch,
                name: name.clone(),
                role: "technician",
                skills: vec!["electrical", "live_electrical"],
            };
            self.emit(start, dispatcher, Entry::Person(person));
            let name = format!("Van of {name} ({number}-{})", count + 1);
            self.emit(start, dispatcher, Entry::Store(Store { id: van, branch, person: Some(id), name }));
            #[expect(clippy::expect_used, reason = "a short text")]
            let device = Text::new(format!("phone-{number}-{}", count + 1)).expect("a short text");
            self.technicians.push(Technician { id, van, habits, busy_until: start, device, sequence: 0 });
        }
    }

    fn kitchen(
        &mut self,
        start: Moment,
        kind: &'static Kind,
        town: &'static crate::kitchen::Town,
        number: usize,
    ) {
        let story = self.settings.stories.then(|| Story::of(number)).flatten();
        let kind = story.map_or(kind, Story::kind);
        let mut kitchen = Kitchen::built(kind, town, &mut self.random);
        if let Some(story) = story {
            story.shape(&mut kitchen);
        }
        let (customer, id) = (self.new_id(start), self.new_id(start));
        let name = names::house(kind.label, town.name, &mut self.random);
        let (dispatcher, branch) = (self.dispatcher, self.id);
        let entry = Customer { id: customer, external_id: format!("K{:06}", number + 1), name: name.clone() };
        self.emit(start, dispatcher, Entry::Customer(entry));
        let entry = SiteEntry {
            id,
            customer,
            branch,
            name,
            kitchen: kind.key,
            place: town.name.to_owned(),
            altitude_m: town.altitude_m,
            time_zone: TIME_ZONE,
        };
        self.emit(start, dispatcher, Entry::Site(entry));
        let mut contacts = Vec::new();
        for role in ["kitchen_manager", "cook"] {
            let contact = self.new_id(start);
            let (name, phone) = (names::person(&mut self.random), names::phone(&mut self.random));
            contacts.push((contact, name.clone()));
            self.emit(
                start,
                dispatcher,
                Entry::Contact(Contact { id: contact, site: id, name, role, phone }),
            );
        }
        let first = self.units.len();
        let (fewest, most) = kind.appliances;
        for _ in 0..fewest + self.random.below(most - fewest + 1) {
            self.machine(start, &kitchen, id);
        }
        let units = first..self.units.len();
        let has_contract = self.random.chance(0.45);
        let site = self.sites.len();
        self.sites.push(Site { id, kitchen, contacts, has_contract, units: units.clone(), referred: false });
        self.sample_water(start, site);
        for unit in units {
            self.look(unit);
        }
        // a kitchen of every weekday and week of the year has its service
        let service = start + self.random.whole(365) * DAY + 9 * HOUR + self.random.whole(60) * MINUTE;
        self.schedule(service, Task::PlanService { site });
    }

    fn machine(&mut self, start: Moment, kitchen: &Kitchen, site_id: SiteId) {
        let design = self.random.weighted(&[0.6, 0.22, 0.18]);
        let id = self.new_id(start);
        let days_old = self.random.between(30.0, 9.0 * 365.0) as i64;
        let installed = start - days_old * DAY;
        let site = self.sites.len();
        let mut unit = Unit::made(id, site, &self.catalogue.designs, design, installed, &mut self.random);
        let stress = Stress::of(kitchen, unit.age_years(start), 1.0);
        unit.severities =
            ageing::history_until_now(&unit.machine.design, &unit.pace, &stress, &mut self.random);
        if unit.machine.design.may_have(Defect::StrainerMisfitted) && self.random.chance(0.012) {
            unit.severities.set(Defect::StrainerMisfitted, 1.0);
        }
        let count = self.units.len();
        let label = format!("{} {}", self.random.pick(&PLACES), count + 1);
        let appliance = Appliance {
            id,
            site: site_id,
            model: unit.machine.design.key,
            position_label: label,
            serial: format!(
                "{}{:02}-{:05}",
                unit.machine.design.key[..1].to_uppercase(),
                self.index + 1,
                10_000 + count
            ),
            installed_on: timestamp(installed),
            warranty_until: timestamp(unit.warranty_until),
        };
        let dispatcher = self.dispatcher;
        self.emit(start, dispatcher, Entry::Appliance(appliance));
        if self.settings.original_parts {
            self.original_parts(start, &mut unit);
        }
        self.units.push(unit);
    }

    fn original_parts(&mut self, start: Moment, unit: &mut Unit) {
        let catalogue = self.catalogue.clone();
        for (kind, part) in catalogue.parts_of(unit.design) {
            let position = kind.position();
            if !unit.machine.design.has(position) || unit.fitted.contains_key(&position) {
                continue;
            }
            let id = self.new_id(start);
            unit.fitted.insert(position, id);
            let fitted = FittedPart {
                id,
                appliance: unit.id,
                position: position.key(),
                part,
                serial: None,
                fitted_at: timestamp(unit.installed),
                part_line: None,
            };
            let dispatcher = self.dispatcher;
            self.emit(start, dispatcher, Entry::FittedPart(fitted));
        }
    }

    pub(super) fn sample_water(&mut self, at: Moment, site: usize) {
        let id = self.new_id(at);
        let kitchen = &self.sites[site].kitchen;
        let hardness = (kitchen.fed_hardness() * self.random.factor(0.05)).max(2.0);
        let round = |value: f64, digits: f64| (value * digits).round() / digits;
        let chloride = kitchen.town.chloride_mg_per_l * self.random.factor(0.08);
        let ph = 7.4 + self.random.normal(0.0, 0.12);
        let mut as_read = BTreeMap::new();
        let mut read = |name: &str, value: f64, unit: &'static str| {
            if let Ok(read) = AsRead::new(&value.to_string(), value, unit) {
                as_read.insert(name.to_owned(), read);
            }
            (value, unit)
        };
        let hardness_read = read("hardness", round(hardness, 1.0), "mg/L");
        let alkalinity = read("alkalinity", round(0.7 * hardness + 15.0, 1.0), "mg/L");
        let conductivity = read("conductivity", round(120.0 + 2.1 * hardness, 1.0), "uS/cm");
        let chloride = read("chloride", round(chloride, 1.0), "mg/L");
        let ph = read("ph", round(ph, 10.0), "[pH]");
        let temperature = read("temperature", 13.0, "Cel");
        let sample = WaterSample {
            sample_point: SamplePoint::AfterTreatment,
            treatment: kitchen.treatment.of_the_domain(),
            hardness: Hardness::read(hardness_read.0, hardness_read.1).ok(),
            calcium_hardness: None,
            alkalinity: Alkalinity::read(alkalinity.0, alkalinity.1).ok(),
            conductivity: Conductivity::read(conductivity.0, conductivity.1).ok(),
            chloride: MassConcentration::read(chloride.0, chloride.1).ok(),
            ph: Ph::read(ph.0, ph.1).ok(),
            temperature: Temperature::read(temperature.0, temperature.1).ok(),
        };
        let water = SiteWater { id, site: self.sites[site].id, taken_at: timestamp(at), sample, as_read };
        let dispatcher = self.dispatcher;
        self.emit(at, dispatcher, Entry::SiteWater(water));
        let days = 120 + self.random.whole(240);
        self.schedule(at + days * DAY, Task::Water { site });
    }
}

/// Open stories of the demo, made by shaping a kitchen and letting it live.
#[derive(Clone, Copy)]
enum Story {
    /// Strainers clog every five weeks.
    Dirt,
    /// Every machine of the school sees low water pressure.
    LowPressure,
    /// Hard water and grease without care: valves and pumps go weak together.
    LimeAndGrease,
}

impl Story {
    fn of(number: usize) -> Option<Self> {
        match number {
            2 => Some(Self::Dirt),
            5 => Some(Self::LowPressure),
            9 => Some(Self::LimeAndGrease),
            _ => None,
        }
    }

    fn kind(self) -> &'static Kind {
        match self {
            Self::Dirt => &KINDS[2],
            Self::LowPressure => &KINDS[1],
            Self::LimeAndGrease => &KINDS[6],
        }
    }

    fn shape(self, kitchen: &mut Kitchen) {
        match self {
            Self::Dirt => kitchen.debris = 60.0,
            Self::LowPressure => {
                kitchen.chronic_pressure = 0.42;
                kitchen.building.set(Defect::SupplyPressureLow, 0.42);
            }
            Self::LimeAndGrease => {
                kitchen.treatment = crate::kitchen::Treatment::None;
                kitchen.hardness_mg_per_l = 520.0;
                kitchen.grease = 4.5;
            }
        }
    }
}
