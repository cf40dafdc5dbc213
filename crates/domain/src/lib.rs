//! What Ovenwright knows of the trade, as pure computation: no input or output, no clock and no
//! randomness of its own. Everything that a function needs comes in as a parameter, so the same
//! evidence always gives the same answer.

pub mod danger;
pub mod diagnosis;
pub mod draft;
pub mod equipment;
pub mod evidence;
pub mod grading;
pub mod id;
pub mod judgement;
pub mod known_good;
pub mod measures;
pub mod money;
pub mod physics;
pub mod probability;
pub mod procedure;
pub mod quantity;
pub mod reliability;
pub mod repeats;
pub mod replacement;
pub mod role;
pub mod site_water;
pub mod standing_facts;
pub mod text;
pub mod time;
pub mod violation;
pub mod vocabulary;
pub mod word_list;
pub mod work;
