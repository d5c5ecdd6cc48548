//! The same air columns by another route: the lossy horn equations `dp/dx = −Z'U`, `dU/dx = −Y'p` integrated
//! in fine steps along the bore with its local radius, with Bessel functions from a library, holes and leaks
//! put in as lumps from their formulas written anew, and the radiation formula written anew. Nothing of
//! `acoustics` is called except for the frequencies that are compared.
//!
//! The equations: A. Chaigne & J. Kergomard, *Acoustics of Musical Instruments*, ch. 7 (from memory). The
//! integration: the classical Runge–Kutta rule of fourth order.

mod compare;
mod horn;
