"""The posterior of the weights given all rows, its draws, its evidence, and what is left out.

    K = Z Z^T + N,  w = Z^T K^-1 y,  draw = w0 + Z^T K^-1 (y - Z w0 - noise)

(Rasmussen, Williams 2006, Gaussian Processes for Machine Learning, ch. 2 and 5, doi:10.7551/
mitpress/3206.001.0001; draws by Matheron's rule). w0 is the draw that a weight has without any row.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.linalg import cho_solve, cholesky
from scipy.optimize import minimize

from blendwright.mixture.excess.learned import DRAWS
from blendwright.mixture.parameter_sets import Array
from fitting.excess.design import Design

NOISE_SEED = 1
STUDENT_DEGREES = 4.0  # of the rows' tails, where noise is raised by how far a row lies off
PRIOR_LOG_SD = 0.7  # of the logarithm of each standard deviation about its starting value


@dataclass(frozen=True, eq=False)
class Fit:
    """One posterior. `noise` is each row's standard deviation; `common` (rows, rows) is what their
    doubt has in common beside, where there is such."""

    design: Design
    prior: Mapping[str, float]
    noise: Array
    common: Array | None = None

    @cached_property
    def z(self) -> sparse.csr_matrix:
        return self.design.matrix(self.design.values(self.prior)[0])

    @cached_property
    def _root(self) -> Array:
        k = (self.z @ self.z.T).toarray()
        k[np.diag_indices(len(k))] += self.noise**2
        if self.common is not None:
            k += self.common
        return np.asarray(cholesky(k, lower=True, overwrite_a=True, check_finite=False))

    @cached_property
    def inverse(self) -> Array:
        """K^-1."""
        return np.asarray(cho_solve((self._root, True), np.eye(len(self.noise)), overwrite_b=True))

    @cached_property
    def alpha(self) -> Array:
        """K^-1 y."""
        return np.asarray(cho_solve((self._root, True), self.design.residual))

    @property
    def negative_log_evidence(self) -> float:
        half = 0.5 * float(self.design.residual @ self.alpha)
        n = len(self.noise)
        return half + float(np.log(np.diag(self._root)).sum() + 0.5 * n * np.log(2.0 * np.pi))

    @property
    def mean(self) -> Array:
        """Mean of the weights."""
        return np.asarray(self.z.T @ self.alpha)

    def draws(self, residuals: Array | None = None) -> Array:
        """(DRAWS, columns); `residuals` (DRAWS, rows) where each draw has its own."""
        residual = self.design.residual if residuals is None else residuals
        start = self.design.prior_draws()
        rng = np.random.default_rng(NOISE_SEED)
        off = rng.standard_normal((DRAWS, len(self.noise))) * self.noise
        wanted = residual - (self.z @ start.T).T - off
        return np.asarray(start + (self.z.T @ cho_solve((self._root, True), wanted.T)).T)

    def variances(self) -> Array:
        """Variance of each weight after the rows; 1 is the prior's."""
        inner = self.z.T @ self.inverse
        return np.asarray(1.0 - (sparse.csr_matrix(self.z.T).multiply(inner)).sum(axis=1)).ravel()

    def left_out(self, judged: Sequence[int], block: Sequence[int]) -> tuple[Array, Array]:
        """Predicted less measured, and its standard deviation with the row's own noise, of some
        rows when all of `block` (which holds them) is left out."""
        block_at = np.asarray(block)
        covariance = np.linalg.inv(self.inverse[np.ix_(block_at, block_at)])
        error = -(covariance @ self.alpha[block_at])
        place = {b: k for k, b in enumerate(block)}
        at = [place[j] for j in judged]
        return error[at], np.sqrt(np.diag(covariance)[at])


def gradient(fit: Fit, kinds: NDArray[np.intp]) -> tuple[dict[str, float], Array]:
    """Gradient of the negative log evidence by the logarithm of each standard deviation: the
    prior's, and the noise of each kind of row."""
    value, by = fit.design.values(fit.prior)
    d = fit.design
    inner = fit.z.T @ fit.inverse  # columns x rows
    pull = fit.z.T @ fit.alpha
    entry = value * (inner[d.column, d.row] - fit.alpha[d.row] * pull[d.column])
    of_prior = {name: float(share @ entry) for name, share in by.items()}
    own = (np.diag(fit.inverse) - fit.alpha**2) * fit.noise**2
    return of_prior, np.bincount(kinds, own).astype(float)


def learn_prior(
    fit: Fit, names: Sequence[str], kinds: NDArray[np.intp], free: Sequence[int], steps: int
) -> Fit:
    """Standard deviations (of the named effects and of the free kinds' noise) that make the
    evidence greatest, each with a wide prior about where it starts."""
    start = dict(fit.prior)

    def made(logs: Array) -> Fit:
        prior = start | {n: start[n] * float(np.exp(x)) for n, x in zip(names, logs, strict=False)}
        noise = fit.noise.copy()
        for k, x in zip(free, logs[len(names) :], strict=True):
            noise[kinds == k] *= np.exp(x)
        return replace(fit, prior=prior, noise=noise)

    def cost(logs: Array) -> tuple[float, Array]:
        trial = made(logs)
        of_prior, of_noise = gradient(trial, kinds)
        slope = np.array([of_prior[n] for n in names] + [of_noise[k] for k in free])
        penalty = 0.5 * float(((logs / PRIOR_LOG_SD) ** 2).sum())
        print(f"  evidence {trial.negative_log_evidence:.1f}", flush=True)
        return trial.negative_log_evidence + penalty, slope + logs / PRIOR_LOG_SD**2

    size = len(names) + len(free)
    found = minimize(
        cost, np.zeros(size), jac=True, method="L-BFGS-B", bounds=[(-2.0, 2.0)] * size,
        options={"maxiter": steps},
    )  # fmt: skip
    return made(found.x)


def heavy_tailed(fit: Fit, which: Array) -> Fit:
    """Noise raised where a row lies far from what all others say of it, as a Student t with
    STUDENT_DEGREES has it; only of the marked rows."""
    deviation = fit.alpha / np.sqrt(np.diag(fit.inverse))
    raised = np.maximum(1.0, (STUDENT_DEGREES + deviation**2) / (STUDENT_DEGREES + 1.0))
    return replace(fit, noise=fit.noise * np.where(which, np.sqrt(raised), 1.0))
