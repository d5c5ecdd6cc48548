//! One line of caution wherever work at the bench is named. Labels, local rules and licensed practice
//! come first.
//!
//! Must not know findings.

/// For drilling, filing and trimming.
pub const CUTTING: &str = "Caution: clamp the tube in a V-block with a dowel inside, feed slowly, wear eye \
    protection and no gloves at the drill. Catch the dust: wear a fitted mask, never blow it off. Follow the \
    tool's and the material's own instructions and your local rules.";

/// For wax, epoxy and other fillers.
pub const FILLING: &str = "Caution: fillers and glues: air the room, wear gloves, keep flames away, let them cure \
    fully before you blow. The label and safety sheet of the product rule.";
