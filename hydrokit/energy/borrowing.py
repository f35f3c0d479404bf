"""Borrowing: what a loan takes each year, in interest and in principal.

>>> found = repaid(40_000, 15, 0.05)
>>> f"{found.service[0]:.2f} a year, of it {found.interest[0]:.2f} interest in the first"
'3853.69 a year, of it 2000.00 interest in the first'
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..units import Given, Number, units
from ..works.solve import require
from .discounting import capital_recovery

__all__ = ["Repaid", "loan_payment", "repaid"]


@units("money", amount="money", years="count", rate="ratio")
def loan_payment(amount: Given, years: Given, rate: Given) -> Number:
    r"""What a loan with level payments takes at the end of each year.

    Parameters
    ----------
    amount : Quantity or str [money]
        Borrowed, :math:`L`.
    years : number
        How many payments, :math:`n`.
    rate : number or str
        Interest of a year as the bank writes it, :math:`i`.

    Returns
    -------
    Quantity [money]

    Raises
    ------
    HydrokitError
        A term of zero or less, a negative amount or rate.

    Notes
    -----
    .. math:: P = L \frac{i}{1 - (1 + i)^{-n}}

    References
    ----------
    .. [1] As :func:`capital_recovery`: the payments are worth the loan on the day it is paid out.

    Examples
    --------
    >>> print(f"{loan_payment('40000 money', 15, '5 %'):.2f~P}")
    3853.69 money
    >>> print(f"{loan_payment('15000 money', 60, '0 %'):.2f~P}")
    250.00 money
    """
    require("loan_payment", "zero or more", amount=amount)
    return amount * capital_recovery.si(years, rate)


@dataclass(frozen=True, eq=False)
class Repaid:
    """A loan, year by year.

    Parameters
    ----------
    interest, principal : ndarray
        Paid at the end of each year, the first year first.
    """

    interest: np.ndarray
    principal: np.ndarray

    @property
    def service(self) -> np.ndarray:
        """Interest and principal together."""
        return self.interest + self.principal

    @property
    def owed(self) -> np.ndarray:
        """Still owed after each payment."""
        return self.principal.sum() - np.cumsum(self.principal)


def repaid(amount_money: float, years: float, rate: float, equal_principal: bool = False) -> Repaid:
    """How a loan is paid back.

    Parameters
    ----------
    amount_money : float
    years : float
        The last may be a part of one.
    rate : float
        Interest of a year as the bank writes it.
    equal_principal : bool
        The same principal each year, so that payments fall; else level payments.

    Returns
    -------
    Repaid
    """
    level = float(amount_money * capital_recovery.si(years, rate))
    owed, interest, principal = float(amount_money), [], []
    for year in range(int(np.ceil(years - 1e-9))):
        length = min(1.0, years - year)
        due = owed * ((1 + rate) ** length - 1)
        last = year + 1 >= years - 1e-9
        part = amount_money / years * length if equal_principal else level - due
        part = owed if last else min(part, owed)
        interest.append(due)
        principal.append(part)
        owed -= part
    return Repaid(np.array(interest), np.array(principal))
