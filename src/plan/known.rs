//! The bed of a plan, from the store of beds.

use super::bed::{Bed, Known, Origin};
use super::knowledge::Fact;
use crate::beds::{Now, Timeline};
use crate::judge::{Context, Judgement};

impl Bed {
    /// What a store knows of a bed as it is now: its last analysis and that one's judgement, the register, the newest
    /// readings, and the price of resin with its date.
    ///
    /// ```
    /// use beadwise::beds::{self, Store, amount};
    /// use beadwise::judge::Context;
    /// use beadwise::plan::{Bed, Fact, Origin};
    /// let mut store = Store::in_memory()?;
    /// let mut known = beds::Bed::named("Mill Street Laundry", "Softener 2");
    /// known.resin_class = Some("sac-gel-8".into());
    /// known.tank_bore = Some(amount("tank_bore", "24 in")?);
    /// let id = store.add_bed(&known)?;
    /// let (timeline, context) = (store.timeline(&id)?, Context::builtin()?);
    /// let now = timeline.now(&context.policy.limits);
    /// let judgement = timeline.verdict(&now.record, &context);
    /// let bed = Bed::from_store(&timeline, &now, &judgement, &context);
    /// assert_eq!(bed.known(Fact::TankBore).map(|known| known.from), Some(Origin::History));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn from_store(timeline: &Timeline, now: &Now, judgement: &Judgement, context: &Context<'_>) -> Self {
        let mut bed = Self::from_report(&now.record, judgement, context);
        let facts: Vec<Fact> = bed.facts.keys().copied().collect();
        for fact in facts.into_iter().filter(|fact| now.told.iter().any(|quantity| quantity == fact.id())) {
            if let Some(known) = bed.known(fact) {
                bed.set(fact, Known { from: Origin::History, ..known });
            }
        }
        let register = &timeline.bed;
        for (fact, amount) in [(Fact::TankHeight, &register.tank_height), (Fact::RunBefore, &register.run_at_startup)] {
            if let Some(amount) = amount {
                bed.set(fact, Known { value: amount.value, from: Origin::History });
            }
        }
        if let Some(price) = &register.resin_price {
            bed.set(Fact::ResinPrice, Known { value: price.per_litre, from: Origin::History });
            bed.about.prices_on.clone_from(&price.on);
        }
        bed.about.since.clone_from(&now.since);
        bed
    }
}
