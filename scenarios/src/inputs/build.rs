//! The build: a donor car and all that goes in, comes out and rides along.

use crate::files::allowed::{Allowed, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::bounds::MASSES;
use crate::files::field_path::{Fault, FieldPath};
use crate::inputs::auxiliaries::Auxiliaries;
use crate::inputs::charger::{Charger, OnBoardCharger};
use crate::inputs::controller::{self, Controller};
use crate::inputs::coolant::{Coolant, HeatSources};
use crate::inputs::donor::Donor;
use crate::inputs::driver::Driver;
use crate::inputs::gearbox::{Gearbox, InCar};
use crate::inputs::known::{KnownPart, KnownParts};
use crate::inputs::learnt_input::Spreads;
use crate::inputs::motor::Motor;
use crate::inputs::pack::Pack;
use crate::inputs::reference::Reference;
use crate::inputs::regen::Regen;
use crate::inputs::tyre::Tyre;
use crate::inputs::wiring::{Wires, Wiring};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use sim_core::car::Parts;
use sim_core::mass::{Chassis, Item};
use sim_core::units;

/// A conversion: the donor car, the parts of its electric drive, and what it carries.
///
/// Donor, gearbox, motor, controller, pack (and the cell in a pack) and tyres either stand here as
/// objects, or as a string: the path of a file, seen from this file, or `shelf:NAME`.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Build {
    /// Where the JSON Schema of this file is.
    #[serde(rename = "$schema")]
    pub schema: Option<String>,
    /// What to call it.
    pub name: Option<String>,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Paths of fields that hold what is typical of the class, such as `donor.wheelbase_m`, until
    /// somebody puts in what is true of the car: they count as assumed.
    pub assumed: Option<Vec<String>>,
    /// Files of what was learnt from this car (`measured`), seen from this file; what a later one
    /// says stands in place of what an earlier one says.
    pub measured: Option<Vec<String>>,
    /// The car before its conversion.
    #[schemars(with = "Reference<Donor>")]
    pub donor: Donor,
    /// The gearbox.
    #[schemars(with = "Reference<Gearbox>")]
    pub gearbox: Gearbox,
    /// The motor.
    #[schemars(with = "Reference<Motor>")]
    pub motor: Motor,
    /// The controller.
    #[schemars(with = "Reference<Controller>")]
    pub controller: Controller,
    /// The traction pack.
    #[schemars(with = "Reference<Pack>")]
    pub pack: Pack,
    /// The tyres.
    #[schemars(with = "Reference<Tyre>")]
    pub tyre: Tyre,
    /// What was taken out of the car: engine, tank, exhaust, radiator.
    pub removed: Option<Vec<Mass>>,
    /// What was put in besides motor, controller and pack: charger, converter, cables, brackets.
    pub added: Option<Vec<Mass>>,
    /// Who and what rides along.
    pub load: Option<Vec<Mass>>,
    /// Where motor, controller and pack sit.
    pub placement: Placement,
    /// 12 V loads and cabin heat.
    pub auxiliaries: Option<Auxiliaries>,
    /// The coolant with its radiator, where motor or controller is liquid-cooled.
    pub coolant: Option<Coolant>,
    /// The on-board charger.
    pub charger: Option<Charger>,
    /// Cables, fuse, precharge and the 12 V side.
    pub wiring: Option<Wiring>,
    /// Braking with the motor.
    pub regen: Option<Regen>,
    /// The driver.
    pub driver: Option<Driver>,
}

impl Build {
    /// What is known of how well the numbers of its parts are known: the path of each part, and what
    /// stands in it.
    pub(crate) fn spreads(&self) -> [(&'static str, Option<&Spreads>); 7] {
        [
            ("build.donor", self.donor.spreads.as_ref()),
            ("build.gearbox", self.gearbox.spreads.as_ref()),
            ("build.motor", self.motor.spreads.as_ref()),
            ("build.controller", self.controller.spreads.as_ref()),
            ("build.pack", self.pack.spreads.as_ref()),
            ("build.pack.cell", self.pack.cell.spreads.as_ref()),
            ("build.tyre", self.tyre.spreads.as_ref()),
        ]
    }
}

/// A thing with a mass and a place.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Mass {
    /// What it is.
    pub item: String,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// What it costs, in the currency of `money`; of what was removed, what it brings.
    pub price: Option<f64>,
    /// Mass, kg; never negative, also of what was removed.
    pub mass_kg: f64,
    /// Its centre behind the front axle, m; negative ahead of it.
    pub behind_front_axle_m: f64,
}

/// Where the heavy parts sit; their masses come from the parts themselves.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Placement {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Centre of the motor behind the front axle, m; negative ahead of it.
    pub motor_behind_front_axle_m: f64,
    /// Centre of the controller behind the front axle, m.
    pub controller_behind_front_axle_m: f64,
    /// Centre of the pack behind the front axle, m; of a pack with `boxes` each box has its own place.
    pub pack_behind_front_axle_m: Option<f64>,
}

/// Why a mass is in the sum.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// The donor as it was.
    Donor,
    /// Taken out.
    Removed,
    /// Motor, controller or pack.
    Drive,
    /// Put in besides.
    Added,
    /// Rides along.
    Load,
}

/// One line of the mass balance.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct MassLine {
    /// What it is.
    pub item: String,
    /// Why it counts.
    pub reason: Reason,
    /// Mass, kg; negative where it was taken out.
    pub mass_kg: f64,
    /// Centre behind the front axle, m.
    pub behind_front_axle_m: f64,
}

/// Places in a car, seen from the front axle.
const PLACE_M: Allowed = within(-2.5, 8.0);

impl Build {
    /// What the gearbox's drag depends on besides the box.
    pub(crate) fn in_car(&self) -> InCar {
        InCar { driven: self.donor.driven_axle(), coast_down: self.donor.has_coast_down() }
    }

    /// The parts, for builds that share them.
    pub(crate) fn known_parts(&self, at: &FieldPath) -> Result<KnownParts, Fault> {
        let in_car = self.in_car();
        Ok(KnownParts {
            gearbox: KnownPart::of((self.gearbox.clone(), in_car), |found| {
                self.gearbox.model(&at.field("gearbox"), in_car, found)
            })?,
            motor: KnownPart::of(self.motor.clone(), |found| {
                self.motor.model(&at.field("motor"), found)
            })?,
            controller: KnownPart::of(self.controller.clone(), |found| {
                self.controller.model(&at.field("controller"), found)
            })?,
            pack: KnownPart::of(self.pack.clone(), |found| {
                self.pack.model(&at.field("pack"), found)
            })?,
            charger: KnownPart::of(self.charger.clone(), |found| self.on_board(at, found))?,
        })
    }

    /// Parts ready to be put together, and the mass balance. Those that are known are not made anew.
    pub(crate) fn parts(
        &self,
        at: &FieldPath,
        known: Option<&KnownParts>,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<(Parts, Vec<MassLine>), Fault> {
        let tyre_at = at.field("tyre");
        let donor_at = at.field("donor");
        let rolling_radius_m = self.tyre.radius_m(&tyre_at, assumptions)?;
        let wheels_inertia_kg_m2 =
            self.tyre.wheels_inertia_kg_m2(&tyre_at, rolling_radius_m, assumptions)?;
        let in_car = self.in_car();
        let gearbox = KnownPart::or_make(
            known.map(|known| &known.gearbox),
            |(gearbox, same_car)| *gearbox == self.gearbox && *same_car == in_car,
            assumptions,
            |assumptions| self.gearbox.model(&at.field("gearbox"), in_car, assumptions),
        )?;
        let motor = KnownPart::or_make(
            known.map(|known| &known.motor),
            |motor| *motor == self.motor,
            assumptions,
            |assumptions| self.motor.model(&at.field("motor"), assumptions),
        )?;
        let controller = KnownPart::or_make(
            known.map(|known| &known.controller),
            |controller| *controller == self.controller,
            assumptions,
            |assumptions| self.controller.model(&at.field("controller"), assumptions),
        )?;
        if self.controller.kind.is_none() {
            let path = at.field("controller").field("kind").path();
            let kind = controller::Kind::for_motor(&motor.machine.kind).name();
            assumptions.push(Assumption::words(path, kind, "what the motor needs"));
        }
        let pack = KnownPart::or_make(
            known.map(|known| &known.pack),
            |pack| *pack == self.pack,
            assumptions,
            |assumptions| self.pack.model(&at.field("pack"), assumptions),
        )?;
        let (chassis, lines) = self.chassis(at, wheels_inertia_kg_m2, assumptions)?;
        let road_load = self.donor.road_load(
            &donor_at,
            (&self.tyre, &tyre_at),
            chassis.mass_kg,
            assumptions,
        )?;
        let friction_share = self.donor.brake_share(&donor_at, assumptions)?;
        let (no_regen, no_auxiliaries) = (Regen::default(), Auxiliaries::default());
        let regen = self.regen.as_ref().unwrap_or(&no_regen);
        let braking = regen.model(&at.field("regen"), &motor, friction_share, assumptions)?;
        let auxiliaries = self
            .auxiliaries
            .as_ref()
            .unwrap_or(&no_auxiliaries)
            .model(&at.field("auxiliaries"), assumptions)?;
        let sources = HeatSources {
            motor: &motor,
            nameplate: self.motor.nameplate.as_ref(),
            controller: &controller,
        };
        let coolant = Coolant::model(self.coolant.as_ref(), at, &sources, assumptions)?;
        let parts = Parts {
            chassis,
            road_load,
            rolling_radius_m,
            driven: self.donor.driven_axle(),
            gearbox,
            motor,
            controller,
            pack,
            auxiliaries,
            braking,
            coolant,
        };
        Ok((parts, lines))
    }

    /// The on-board charger.
    pub(crate) fn on_board(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<OnBoardCharger, Fault> {
        let none = Charger::default();
        self.charger.as_ref().unwrap_or(&none).model(&at.field("charger"), assumptions)
    }

    /// What is known of the wiring.
    pub(crate) fn wires(&self, at: &FieldPath) -> Result<Wires, Fault> {
        let none = Wiring::default();
        let wiring = self.wiring.as_ref().unwrap_or(&none);
        wiring.model(&at.field("wiring"), &self.controller, self.auxiliaries.as_ref())
    }

    /// What rides along where nothing is said.
    fn driver_alone(&self) -> Mass {
        Mass {
            item: "driver".to_owned(),
            note: None,
            price: None,
            mass_kg: 75.0,
            behind_front_axle_m: 0.5 * self.donor.wheelbase_m,
        }
    }

    /// Lets more ride along than the build says, or than is assumed where it says nothing.
    pub(crate) fn load_besides(&mut self, more: &[Mass]) {
        let alone = self.driver_alone();
        self.load.get_or_insert_with(|| vec![alone]).extend_from_slice(more);
    }

    /// The mass balance and the chassis that it makes.
    fn chassis(
        &self,
        at: &FieldPath,
        wheels_inertia_kg_m2: f64,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<(Chassis, Vec<MassLine>), Fault> {
        let donor_at = at.field("donor");
        let donor = &self.donor;
        let kerb_kg = donor_at.number("kerb_mass_kg", donor.kerb_mass_kg, within(150.0, 5000.0))?;
        let wheelbase_m = donor_at.number("wheelbase_m", donor.wheelbase_m, within(1.0, 6.0))?;
        let front_share =
            donor_at.number("front_share_pct", donor.front_share_pct, within(10.0, 90.0))?;
        let front_share = units::share_from_pct(front_share);
        let cg_height_m = donor_at.assumed(
            "cg_height_m",
            donor.cg_height_m,
            within(0.1, 2.0),
            usual(0.52, "m", "common practice for a light car"),
            assumptions,
        )?;
        let limit = within(150.0, 10000.0);
        donor_at.optional("gross_mass_kg", donor.gross_mass_kg, limit)?;
        donor_at.optional("front_axle_max_kg", donor.front_axle_max_kg, limit)?;
        donor_at.optional("rear_axle_max_kg", donor.rear_axle_max_kg, limit)?;

        let mut lines = vec![MassLine {
            item: donor.name.clone().unwrap_or_else(|| "donor car".to_owned()),
            reason: Reason::Donor,
            mass_kg: kerb_kg,
            behind_front_axle_m: (1.0 - front_share) * wheelbase_m,
        }];
        let mut list = |name, masses: &Option<Vec<Mass>>, reason| -> Result<(), Fault> {
            let list_at = at.field(name);
            let masses = masses.as_deref().unwrap_or_default();
            if masses.len() as u64 > MASSES {
                let value = format!("a list of {}", masses.len());
                return Err(at.refuse(name, value, format!("at most {MASSES} things")));
            }
            let sign = if reason == Reason::Removed { -1.0 } else { 1.0 };
            for (i, mass) in masses.iter().enumerate() {
                let item_at = list_at.item(i);
                lines.push(MassLine {
                    item: mass.item.clone(),
                    reason,
                    mass_kg: sign * item_at.number("mass_kg", mass.mass_kg, within(0.0, 3000.0))?,
                    behind_front_axle_m: item_at.number(
                        "behind_front_axle_m",
                        mass.behind_front_axle_m,
                        PLACE_M,
                    )?,
                });
            }
            Ok(())
        };
        list("removed", &self.removed, Reason::Removed)?;
        list("added", &self.added, Reason::Added)?;
        list("load", &self.load, Reason::Load)?;
        let place_at = at.field("placement");
        let mut drive = |item: &str, mass_kg, name, behind| -> Result<(), Fault> {
            lines.push(MassLine {
                item: item.to_owned(),
                reason: Reason::Drive,
                mass_kg,
                behind_front_axle_m: place_at.number(name, behind, PLACE_M)?,
            });
            Ok(())
        };
        let place = &self.placement;
        let motor_m = place.motor_behind_front_axle_m;
        drive("motor", self.motor.mass_kg, "motor_behind_front_axle_m", motor_m)?;
        let controller_m = place.controller_behind_front_axle_m;
        let controller_kg = self.controller.mass_kg;
        drive("controller", controller_kg, "controller_behind_front_axle_m", controller_m)?;
        let pack_name = "pack_behind_front_axle_m";
        match (place.pack_behind_front_axle_m, &self.pack.boxes) {
            (Some(_), Some(_)) => {
                let other = at.field("pack").field("boxes").path();
                return Err(Fault::Both { path: place_at.field(pack_name).path(), other });
            }
            (None, None) => return Err(place_at.demand(pack_name, "it has no default")),
            _ => {}
        }
        let boxes_at = at.field("pack");
        let boxes_at = boxes_at.field("boxes");
        for (i, own) in self.pack.parts().into_iter().enumerate() {
            let (mass_kg, place_m) = (own.mass_kg(), own.place_m);
            match (own.name, place_m) {
                (Some(name), Some(place_m)) => lines.push(MassLine {
                    item: format!("pack, {name}"),
                    reason: Reason::Drive,
                    mass_kg,
                    behind_front_axle_m: boxes_at.item(i).number(
                        "behind_front_axle_m",
                        place_m,
                        PLACE_M,
                    )?,
                }),
                _ => lines.push(MassLine {
                    item: "pack".to_owned(),
                    reason: Reason::Drive,
                    mass_kg,
                    behind_front_axle_m: place_at.number(
                        pack_name,
                        place.pack_behind_front_axle_m.unwrap_or(0.0),
                        PLACE_M,
                    )?,
                }),
            }
        }
        if self.load.is_none() {
            let driver = self.driver_alone();
            let reason = "the driver alone, of 75 kg, in the middle between the axles";
            assumptions.push(at.assume("load", usual(driver.mass_kg, "kg", reason)));
            lines.push(MassLine {
                item: driver.item,
                reason: Reason::Load,
                mass_kg: driver.mass_kg,
                behind_front_axle_m: driver.behind_front_axle_m,
            });
        }
        lines.sort_by_key(|line| line.reason as u8);

        let items: Vec<Item> = lines[1..]
            .iter()
            .map(|line| Item {
                mass_kg: line.mass_kg,
                behind_front_axle_m: line.behind_front_axle_m,
            })
            .collect();
        let removed_kg: f64 = items.iter().map(|i| -i.mass_kg.min(0.0)).sum();
        if removed_kg > 0.8 * kerb_kg {
            let value = format!("{removed_kg} kg in all");
            let allowed = format!("at most 80 % of the kerb mass, {} kg", 0.8 * kerb_kg);
            return Err(at.refuse("removed", value, allowed));
        }
        let chassis = Chassis::load(
            kerb_kg,
            front_share,
            wheelbase_m,
            cg_height_m,
            wheels_inertia_kg_m2,
            &items,
        );
        let middle = chassis.cg_behind_front_axle_m / wheelbase_m;
        if !(0.05..=0.95).contains(&middle) {
            let value = format!(
                "such that the centre of gravity lies {:.2} m behind the front axle",
                chassis.cg_behind_front_axle_m
            );
            let (low, high) = (0.05 * wheelbase_m, 0.95 * wheelbase_m);
            return Err(at.refuse("placement", value, format!("{low:.2} to {high:.2} m")));
        }
        Ok((chassis, lines))
    }
}
