//! The food table: bundled foods, overlaid with the user's own.
//!
//! Takes what the readers give, answers by id. A food added later replaces one with the same id.

use std::collections::HashMap;
use std::sync::{Arc, OnceLock};

use super::packed::{Label, PackError, Packed};
use super::{Content, Food, FoodId};
use crate::nutrient::Nutrient;

/// The bundled table, made from the original files by `cargo run --release --example pack-foods`.
static SR28: &[u8] = include_bytes!("../../foods/sr28/sr28.bin");

/// Foods by id.
#[derive(Clone, Debug, Default)]
pub struct FoodTable {
    base: Option<Arc<Packed>>,
    own: Vec<Food>,
    index: HashMap<FoodId, usize>,
}

impl FoodTable {
    /// A table without foods.
    pub fn empty() -> FoodTable {
        FoodTable::default()
    }

    /// The bundled table: all of USDA Standard Reference 28. Foods are decoded when asked for.
    ///
    /// # Panics
    /// Never: the bytes are compiled in, and `tests/truth_sr28.rs` opens them and decodes every food.
    pub fn bundled() -> FoodTable {
        static OPEN: OnceLock<Arc<Packed>> = OnceLock::new();
        let open =
            OPEN.get_or_init(|| Arc::new(Packed::open(SR28).expect("the embedded food table is intact")));
        FoodTable {
            base: Some(Arc::clone(open)),
            ..FoodTable::default()
        }
    }

    /// A table over packed bytes, as [`super::packed::pack`] writes them.
    pub fn from_packed(bytes: Vec<u8>) -> Result<FoodTable, PackError> {
        Ok(FoodTable {
            base: Some(Arc::new(Packed::open(bytes)?)),
            ..FoodTable::default()
        })
    }

    /// Adds foods; one with the id of a food already there takes its place, whole.
    pub fn add(&mut self, foods: impl IntoIterator<Item = Food>) {
        for food in foods {
            match self.index.get(&food.id) {
                Some(&place) => self.own[place] = food,
                None => {
                    self.index.insert(food.id.clone(), self.own.len());
                    self.own.push(food);
                }
            }
        }
    }

    /// Adds all foods of another table; where both have an id the other's food stays.
    pub fn merge(&mut self, other: FoodTable) {
        match (&self.base, &other.base) {
            (None, Some(_)) => {
                let mine = std::mem::take(self);
                *self = FoodTable {
                    base: other.base.clone(),
                    ..FoodTable::default()
                };
                self.add(mine.own);
                // A packed food of the other table beats one of mine with the same id.
                self.own
                    .retain(|f| packed_place(other.base.as_deref(), &f.id).is_none());
                self.index = self
                    .own
                    .iter()
                    .enumerate()
                    .map(|(i, f)| (f.id.clone(), i))
                    .collect();
                self.add(other.own);
            }
            (Some(mine), Some(theirs)) if !Arc::ptr_eq(mine, theirs) => {
                let foods: Vec<Food> = other.iter().collect();
                self.add(foods);
            }
            _ => self.add(other.own),
        }
    }

    /// The food with this id, with everything known of it; `None` if there is none.
    pub fn food(&self, id: &FoodId) -> Option<Food> {
        if let Some(&place) = self.index.get(id) {
            return Some(self.own[place].clone());
        }
        let place = packed_place(self.base.as_deref(), id)?;
        self.base.as_ref()?.food(place).ok()
    }

    /// As [`FoodTable::food`] without a copy, for those who ask for the same foods again and again.
    pub fn kept(&self, id: &FoodId) -> Option<&Food> {
        if let Some(&place) = self.index.get(id) {
            return Some(&self.own[place]);
        }
        self.base.as_ref()?.kept(packed_place(self.base.as_deref(), id)?)
    }

    /// Whether there is a food with this id.
    pub fn contains(&self, id: &FoodId) -> bool {
        self.index.contains_key(id) || packed_place(self.base.as_deref(), id).is_some()
    }

    /// The name of a food; `None` if there is no such food.
    pub fn name(&self, id: &FoodId) -> Option<&str> {
        if let Some(&place) = self.index.get(id) {
            return Some(&self.own[place].name);
        }
        let place = packed_place(self.base.as_deref(), id)?;
        self.base.as_ref()?.label(place).ok().map(|l| l.name)
    }

    /// What is known of a nutrient in 100 g of a food; unknown also when there is no such food.
    pub fn content(&self, id: &FoodId, nutrient: Nutrient) -> Content {
        self.food(id).map_or(Content::Unknown, |f| f.content(nutrient))
    }

    /// How many foods it holds.
    pub fn len(&self) -> usize {
        let base = self.base.as_deref();
        let new = self
            .own
            .iter()
            .filter(|f| packed_place(base, &f.id).is_none())
            .count();
        base.map_or(0, Packed::len) + new
    }

    /// Whether it holds none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// All foods: bundled ones (or what replaces them) by number, then the added ones in order.
    pub fn iter(&self) -> impl Iterator<Item = Food> + '_ {
        self.places().filter_map(|place| match place {
            Place::Packed(at) => self.base.as_ref()?.food(at).ok(),
            Place::Own(at) => Some(self.own[at].clone()),
        })
    }

    /// The ids of all foods, in the order of [`FoodTable::iter`].
    pub fn ids(&self) -> impl Iterator<Item = FoodId> + '_ {
        self.places().filter_map(|place| self.id_at(place))
    }

    /// Places of all foods, in the order of [`FoodTable::iter`].
    pub(super) fn places(&self) -> impl Iterator<Item = Place> + '_ {
        let base = self.base.as_deref();
        let packed = (0..base.map_or(0, Packed::len)).filter_map(move |at| {
            if self.own.is_empty() {
                return Some(Place::Packed(at));
            }
            let id = FoodId::sr28(base?.number(at)?);
            Some(
                self.index
                    .get(&id)
                    .map_or(Place::Packed(at), |&own| Place::Own(own)),
            )
        });
        let new = (0..self.own.len()).filter(move |&at| packed_place(base, &self.own[at].id).is_none());
        packed.chain(new.map(Place::Own))
    }

    pub(super) fn id_at(&self, place: Place) -> Option<FoodId> {
        match place {
            Place::Packed(at) => self.base.as_ref()?.number(at).map(FoodId::sr28),
            Place::Own(at) => self.own.get(at).map(|f| f.id.clone()),
        }
    }

    pub(super) fn label_at(&self, place: Place) -> Option<Label<'_>> {
        match place {
            Place::Packed(at) => self.base.as_ref()?.label(at).ok(),
            Place::Own(at) => self.own.get(at).map(|f| Label {
                name: &f.name,
                common_names: &f.common_names,
                group: &f.group,
                manufacturer: &f.manufacturer,
                in_survey: f.in_survey,
            }),
        }
    }
}

/// Where a food of a table stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Place {
    Packed(usize),
    Own(usize),
}

fn packed_place(base: Option<&Packed>, id: &FoodId) -> Option<usize> {
    let number = id.as_str().strip_prefix("sr28:")?;
    // Only the five digits of the original are the id; `sr28:1001` is not `sr28:01001`.
    let digits = number.len() == 5 && number.bytes().all(|b| b.is_ascii_digit());
    base?.place(number.parse().ok().filter(|_| digits)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bundled_table_answers_by_id() {
        let table = FoodTable::bundled();
        assert_eq!(table.len(), 8789);
        assert_eq!(table.name(&FoodId::new("sr28:01001")), Some("Butter, salted"));
        assert!(!table.contains(&FoodId::new("sr28:1001")));
        assert!(table.food(&FoodId::new("sr28:00000")).is_none());
    }

    #[test]
    fn an_added_food_replaces_the_one_with_its_id() {
        let mut table = FoodTable::bundled();
        let id = FoodId::new("sr28:01001");
        let mut mine = Food::new(id.clone(), "My butter", "label");
        mine.set(Nutrient::FAT, Content::Trace);
        table.add([mine, Food::new(FoodId::new("user:bread"), "My bread", "label")]);
        assert_eq!(table.len(), 8790);
        assert_eq!(table.name(&id), Some("My butter"));
        assert_eq!(table.content(&id, Nutrient::FAT), Content::Trace);
        assert_eq!(table.content(&id, Nutrient::PROTEIN), Content::Unknown);
        assert_eq!(table.ids().last(), Some(FoodId::new("user:bread")));
        assert_eq!(table.iter().next().map(|f| f.name), Some("My butter".to_owned()));
        let mut other = FoodTable::empty();
        other.merge(table);
        assert_eq!(other.len(), 8790);
        assert_eq!(other.name(&id), Some("My butter"));
    }
}
