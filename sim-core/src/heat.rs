//! The car's heat: what stores it, what carries it off, and which part is too hot.
//!
//! Every node of the network follows
//!
//! `C·dT/dt = P + Σ G_in·(T_in − T) − G_on·(T − T_on) − G_out·(T − T_air)`
//!
//! with its heat capacity `C`, the heat `P` that is made in it, the nodes that pass heat to it, the
//! one node that it passes heat on to, and the air about it: the air outside, and for a box of cells the
//! rise over it that was stated. No other temperature is given from outside, so that all of a car that
//! stands long enough is as warm as the air about it. Source: lumped thermal network
//! (common practice, no source).
//!
//! A node is one entry of [`Node`] and of `Network::new`, and gets its heat where powers are
//! booked; rates, steps, equilibria, peaks and warnings follow by themselves.

use crate::car::{Parts, Surroundings};
use crate::cooling::{Conductance, Cooling, ThinAir, Wind};
use crate::limit::Limit;
use crate::pack::Pack;
use std::ops::{Index, IndexMut};

/// A part of the car that stores heat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(usize)]
pub enum Node {
    /// Winding of the motor, with the conductors of its rotor.
    Winding,
    /// Housing of the motor, with its iron.
    Housing,
    /// Heat sink of the controller.
    Sink,
    /// Cells of the pack.
    Cells,
    /// Cabin: air, seats and trim.
    Cabin,
    /// Oil of gearbox and final drive, with their casing.
    Oil,
    /// Coolant with its radiator.
    Coolant,
    /// Cells of the second box of a pack in boxes; with fewer boxes it stays as it is.
    Box2,
    /// Cells of the third box.
    Box3,
    /// Cells of the fourth box.
    Box4,
}

impl Node {
    /// How many there are.
    pub const COUNT: usize = Node::Box4 as usize + 1;

    /// All of them, in declaration order.
    pub const ALL: [Node; Self::COUNT] = [
        Node::Winding,
        Node::Housing,
        Node::Sink,
        Node::Cells,
        Node::Cabin,
        Node::Oil,
        Node::Coolant,
        Node::Box2,
        Node::Box3,
        Node::Box4,
    ];

    /// Those of a car with its pack in one box.
    const OF_ONE_BOX: [Node; ONE_BOX] = [
        Node::Winding,
        Node::Housing,
        Node::Sink,
        Node::Cells,
        Node::Cabin,
        Node::Oil,
        Node::Coolant,
    ];

    /// The cells of each box of a pack, in the order of [`Pack::boxes`](crate::pack::Pack::boxes).
    pub const BOXES: [Node; 4] = [Node::Cells, Node::Box2, Node::Box3, Node::Box4];

    /// The node that it passes heat on to; one that stands after it, so that a step of the network
    /// is solved in one sweep there and one back.
    #[inline]
    const fn onward(self) -> Option<Node> {
        match self {
            Node::Winding => Some(Node::Housing),
            Node::Housing | Node::Sink => Some(Node::Coolant),
            Node::Cells | Node::Cabin | Node::Oil | Node::Coolant => None,
            // A box that stands apart: it passes heat to the air alone.
            Node::Box2 | Node::Box3 | Node::Box4 => None,
        }
    }
}

/// Nodes of a car with its pack in one box; those of further boxes stand behind them.
const ONE_BOX: usize = Node::Coolant as usize + 1;

const _: () = {
    let mut i = 0;
    while i < Node::COUNT {
        if let Some(on) = Node::ALL[i].onward() {
            assert!(on as usize > i, "a node passes heat on to one that stands after it");
        }
        i += 1;
    }
};

/// Something for each node.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct PerNode<T>([T; Node::COUNT]);

impl<T> PerNode<T> {
    /// What a function gives for each.
    #[inline]
    pub fn of(mut each: impl FnMut(Node) -> T) -> Self {
        Self(std::array::from_fn(|i| each(Node::ALL[i])))
    }

    /// In the order of [`Node::ALL`].
    #[inline]
    pub(crate) fn as_array(&self) -> &[T; Node::COUNT] {
        &self.0
    }

    /// In the order of [`Node::ALL`].
    #[inline]
    pub(crate) fn as_array_mut(&mut self) -> &mut [T; Node::COUNT] {
        &mut self.0
    }

    /// In the order of [`Node::ALL`].
    #[inline]
    pub fn iter(&self) -> std::slice::Iter<'_, T> {
        self.0.iter()
    }

    /// In the order of [`Node::ALL`].
    #[inline]
    pub fn iter_mut(&mut self) -> std::slice::IterMut<'_, T> {
        self.0.iter_mut()
    }
}

impl<T> Index<Node> for PerNode<T> {
    type Output = T;
    #[inline]
    fn index(&self, node: Node) -> &T {
        &self.0[node as usize]
    }
}

impl<T> IndexMut<Node> for PerNode<T> {
    #[inline]
    fn index_mut(&mut self, node: Node) -> &mut T {
        &mut self.0[node as usize]
    }
}

/// What heats and cools the nodes at an instant.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Heat {
    /// Heat made in each, W.
    pub into_w: PerNode<f64>,
    /// The air that moves past.
    pub wind: Wind,
}

/// A node as the parts describe it.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Body {
    j_per_k: f64,
    /// To the node that it passes heat on to.
    onward_w_per_k: f64,
    /// To the air.
    outward: Conductance,
    /// How much warmer the air about it is than the air outside, K.
    rise_k: f64,
    /// Temperature above which its part is cut back, K, and the limit that this is.
    warning: Option<(f64, Limit)>,
}

/// The thermal network of a car in its surroundings.
#[derive(Debug, Clone, PartialEq)]
pub struct Network {
    bodies: PerNode<Body>,
    /// The air about each.
    around_k: PerNode<f64>,
    air_k: f64,
    /// Cells of further boxes.
    more: &'static [Node],
}

impl Network {
    /// The network of these parts.
    pub(crate) fn new(parts: &Parts, surroundings: &Surroundings) -> Self {
        let Parts { gearbox, motor, controller, pack, auxiliaries, coolant, .. } = parts;
        let thinned = |conductance, how: ThinAir| how.thinned(conductance, surroundings.altitude_m);
        // A liquid-cooled part passes its heat on, another one gives it to the air.
        let cooled = |body: Body, cooling: &Cooling, how| match cooling {
            Cooling::Liquid { conductance_w_per_k, .. } => {
                Body { onward_w_per_k: *conductance_w_per_k, ..body }
            }
            Cooling::Air { .. } => Body { outward: thinned(cooling.conductance(), how), ..body },
        };
        let thermal = &motor.thermal;
        // A rating knows the winding's rise over the air as a whole.
        let from_winding = Conductance::steady(thermal.winding_to_housing_w_per_k);
        let from_winding = match (&thermal.cooling, thermal.thin_air) {
            (Cooling::Air { .. }, how @ ThinAir::ByRating) => thinned(from_winding, how),
            _ => from_winding,
        };
        let cells = |own: &Pack| Body {
            j_per_k: own.heat_capacity_j_per_k,
            outward: Conductance::steady(own.conductance_w_per_k),
            rise_k: own.air_rise_k,
            warning: own.cell.warning_k().map(|k| (k, Limit::CellTemperature)),
            ..Body::default()
        };
        let further = |i: usize| match pack.others.get(i) {
            Some(own) => cells(own),
            None => Body { j_per_k: 1.0, ..Body::default() },
        };
        let bodies = PerNode::of(|node| match node {
            Node::Winding => Body {
                j_per_k: thermal.winding_j_per_k,
                onward_w_per_k: from_winding.still,
                warning: Some((motor.derating.warning_k, Limit::MotorHeat)),
                ..Body::default()
            },
            Node::Housing => {
                let body = Body { j_per_k: thermal.housing_j_per_k, ..Body::default() };
                cooled(body, &thermal.cooling, thermal.thin_air)
            }
            Node::Sink => {
                let body = Body {
                    j_per_k: controller.heat_capacity_j_per_k,
                    warning: Some((controller.derating.warning_k, Limit::ControllerHeat)),
                    ..Body::default()
                };
                let mut body = cooled(body, &controller.cooling, ThinAir::ByDensity);
                // The motor's shaft turns no fan of the controller.
                body.outward.shaft = 0.0;
                body
            }
            Node::Cells => cells(pack),
            Node::Box2 => further(0),
            Node::Box3 => further(1),
            Node::Box4 => further(2),
            Node::Cabin => match &auxiliaries.cabin {
                Some(cabin) => Body {
                    j_per_k: cabin.heat_capacity_j_per_k,
                    outward: Conductance::steady(cabin.conductance_w_per_k),
                    ..Body::default()
                },
                // Without a heater nothing is asked of the cabin: it stays as it is.
                None => Body { j_per_k: 1.0, ..Body::default() },
            },
            Node::Oil => Body {
                j_per_k: gearbox.oil.heat_capacity_j_per_k,
                outward: thinned(gearbox.oil.conductance, ThinAir::ByDensity),
                ..Body::default()
            },
            Node::Coolant => Body {
                j_per_k: coolant.heat_capacity_j_per_k,
                outward: thinned(coolant.radiator, ThinAir::ByDensity),
                ..Body::default()
            },
        });
        let more = &Node::BOXES[1..][..pack.others.len().min(Node::BOXES.len() - 1)];
        let mut network = Self { bodies, around_k: PerNode::default(), air_k: 0.0, more };
        network.come_into(surroundings.air_k);
        network
    }

    /// The same in another air.
    pub(crate) fn come_into(&mut self, air_k: f64) {
        self.air_k = air_k;
        self.around_k = PerNode::of(|node| air_k + self.bodies[node].rise_k);
    }

    /// Rates of the temperatures, K/s.
    #[inline]
    pub fn rates(&self, at_k: &PerNode<f64>, heat: &Heat) -> PerNode<f64> {
        let mut net_w = heat.into_w;
        for node in Node::OF_ONE_BOX {
            if let Some(on) = node.onward() {
                let passed_w = self.bodies[node].onward_w_per_k * (at_k[node] - at_k[on]);
                net_w[node] -= passed_w;
                net_w[on] += passed_w;
            }
        }
        let mut rates = PerNode::default();
        for node in Node::OF_ONE_BOX {
            rates[node] = self.rate(node, at_k, net_w[node], heat);
        }
        if !self.more.is_empty() {
            for node in self.more.iter().copied() {
                rates[node] = self.rate(node, at_k, net_w[node], heat);
            }
        }
        rates
    }

    #[inline(always)]
    fn rate(&self, node: Node, at_k: &PerNode<f64>, net_w: f64, heat: &Heat) -> f64 {
        let body = &self.bodies[node];
        let out_w = body.outward.w_per_k(&heat.wind) * (at_k[node] - self.around_k[node]);
        (net_w - out_w) / body.j_per_k
    }

    /// Mean temperatures over a step in which the heat stays the same, K, by the implicit midpoint
    /// rule: `(C + ½h·ΣG)·T̄ − ½h·ΣG·T̄_n = C·T + ½h·(P + G_out·T_air)`.
    ///
    /// The network is linear, so that a step is solved at once, by elimination of each node into
    /// the one that it passes heat on to; it is stable however small a heat capacity is. Over a
    /// very long step it is the equilibrium.
    pub fn mean_k(&self, from_k: &PerNode<f64>, heat: &Heat, step_s: f64) -> PerNode<f64> {
        let mut mean_k = *from_k;
        mean_k.0[..ONE_BOX].copy_from_slice(&self.mean_of_one_box_k(from_k, heat, step_s));
        self.mean_of_more_k(from_k, heat, step_s, |node, k| mean_k[node] = k);
        mean_k
    }

    /// Mean temperatures of all but further boxes.
    #[inline(always)]
    fn mean_of_one_box_k(&self, from_k: &PerNode<f64>, heat: &Heat, step_s: f64) -> [f64; ONE_BOX] {
        let half_s = 0.5 * step_s;
        let each = Node::OF_ONE_BOX;
        let mut own = [0.0; ONE_BOX];
        let mut right = [0.0; ONE_BOX];
        for node in each {
            let (i, body) = (node as usize, &self.bodies[node]);
            let out = half_s * body.outward.w_per_k(&heat.wind);
            own[i] = body.j_per_k + out;
            right[i] = body.j_per_k * from_k[node]
                + half_s * heat.into_w[node]
                + out * self.around_k[node];
        }
        let mut passed = [0.0; ONE_BOX];
        for node in each {
            if let Some(on) = node.onward() {
                let through = half_s * self.bodies[node].onward_w_per_k;
                passed[node as usize] = through;
                own[node as usize] += through;
                own[on as usize] += through;
            }
        }
        // What hangs on the wind alone first, so that no division waits for the heat.
        let mut per_own = [0.0; ONE_BOX];
        for node in each {
            let i = node as usize;
            per_own[i] = 1.0 / own[i];
            if let Some(on) = node.onward() {
                own[on as usize] -= passed[i] * passed[i] * per_own[i];
            }
        }
        for node in each {
            let i = node as usize;
            if let Some(on) = node.onward() {
                right[on as usize] += passed[i] * per_own[i] * right[i];
            }
        }
        let mut mean_k = [0.0; ONE_BOX];
        for node in each.into_iter().rev() {
            let i = node as usize;
            let back = node.onward().map_or(0.0, |on| passed[i] * mean_k[on as usize]);
            mean_k[i] = (right[i] + back) * per_own[i];
        }
        mean_k
    }

    /// Mean temperatures of further boxes.
    #[inline(always)]
    fn mean_of_more_k(
        &self,
        from_k: &PerNode<f64>,
        heat: &Heat,
        step_s: f64,
        mut put: impl FnMut(Node, f64),
    ) {
        for node in self.more.iter().copied() {
            let (body, half_s) = (&self.bodies[node], 0.5 * step_s);
            let out = half_s * body.outward.w_per_k(&heat.wind);
            let right = body.j_per_k * from_k[node]
                + half_s * heat.into_w[node]
                + out * self.around_k[node];
            put(node, right / (body.j_per_k + out));
        }
    }

    /// Moves temperatures on by a step in which the heat stays the same.
    #[inline(always)]
    pub fn step(&self, at_k: &mut PerNode<f64>, heat: &Heat, step_s: f64) {
        let mean_k = self.mean_of_one_box_k(at_k, heat, step_s);
        if !self.more.is_empty() {
            self.step_more(at_k, heat, step_s);
        }
        for (now_k, mean_k) in at_k.0.iter_mut().zip(mean_k) {
            *now_k = 2.0 * mean_k - *now_k;
        }
    }

    #[inline(never)]
    fn step_more(&self, at_k: &mut PerNode<f64>, heat: &Heat, step_s: f64) {
        let from_k = *at_k;
        self.mean_of_more_k(&from_k, heat, step_s, |node, mean_k| {
            at_k[node] = 2.0 * mean_k - from_k[node];
        });
    }

    /// Temperature above which a node's part is cut back, K, if there is one.
    pub fn warning_k(&self, node: Node) -> Option<f64> {
        self.bodies[node].warning.map(|(above_k, _)| above_k)
    }

    /// How many nodes stand for boxes that the pack does not have.
    pub(crate) fn idle(&self) -> usize {
        Node::COUNT - ONE_BOX - self.more.len()
    }

    /// The lowest temperature above which the cells of a box are cut back, K, if there is one.
    pub fn cells_warning_k(&self) -> Option<f64> {
        let boxes = Node::BOXES.into_iter().filter_map(|node| self.warning_k(node));
        boxes.reduce(f64::min)
    }

    /// The part that is so hot that it is cut back; of several, the first in the order of [`Node`].
    #[inline]
    pub fn too_hot(&self, at_k: &PerNode<f64>) -> Option<Limit> {
        let is_hot = |node: Node| {
            let (above_k, limit) = self.bodies[node].warning?;
            (at_k[node] > above_k).then_some(limit)
        };
        let found = Node::OF_ONE_BOX.into_iter().find_map(is_hot);
        found.or_else(|| self.more.iter().copied().find_map(is_hot))
    }

    /// The largest share of the way from the air's temperature to its warning that a part has gone,
    /// `(T − T_air)/(T_warn − T_air)`; 1 and more where it is cut back. Where the air leaves no way,
    /// each kelvin above the warning counts as one way more.
    pub fn share(&self, at_k: &PerNode<f64>) -> f64 {
        let gone = |node: Node| {
            let warning_k = self.warning_k(node)?;
            Some(1.0 + (at_k[node] - warning_k) / (warning_k - self.air_k).max(1.0))
        };
        let all = Node::OF_ONE_BOX.into_iter().chain(self.more.iter().copied());
        all.filter_map(gone).fold(f64::NEG_INFINITY, f64::max)
    }
}
