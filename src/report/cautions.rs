//! One line of caution wherever work at the bench is named. Labels, local rules and licensed practice
//! come first.
//!
//! Must not know findings.

/// For drilling, filing and trimming.
pub const CUTTING: &str = "Caution: clamp the tube over a dowel, feed slowly; goggles and dust mask on, no gloves at \
    the drill. Labels and local rules come first.";

/// For wax, epoxy and other fillers.
pub const FILLING: &str = "Caution: air the room, wear gloves, no flames, full cure before you blow. The \
    product's label comes first.";

/// For wax, putty and film that close a place for a trial.
pub const STOPPING: &str = "Caution: keep wax and putty out of the bore and off the lips, and warm them in the hand, \
    not over a flame. The product's label comes first.";
