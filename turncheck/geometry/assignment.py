"""Pairs two sets one to one so that the pairs together cost the least."""

import numpy as np

from turncheck.numerics.arrays import Floats, Ints


def cheapest_pairs(cost: Floats) -> tuple[Ints, Ints]:
    """Return rows and columns of the pairs, as many as the smaller side has, rows ascending.

    Linear assignment by shortest augmenting paths (Crouse 2016, IEEE Trans. Aerosp. Electron.
    Syst. 52:1679). A sheet has some dozens of fills or dots: that takes less time than to import
    a solver for more.

    Parameters
    ----------
    cost
        (n, m), finite.

    Examples
    --------
    >>> rows, columns = cheapest_pairs(np.array([[4.0, 1.0, 3.0], [2.0, 0.0, 5.0]]))
    >>> rows.tolist(), columns.tolist()
    ([0, 1], [1, 0])
    """
    if cost.shape[0] > cost.shape[1]:
        columns, rows = cheapest_pairs(cost.T)
        order = np.argsort(rows)
        return rows[order], columns[order]
    row_count, column_count = cost.shape
    # dual prices: cost - row_price - column_price is never negative, and 0 for every pair
    row_price, column_price = np.zeros(row_count), np.zeros(column_count)
    column_of, row_of = np.full(row_count, -1), np.full(column_count, -1)
    for start in range(row_count):
        distance, before = np.full(column_count, np.inf), np.full(column_count, -1)
        free, row, reached = np.ones(column_count, dtype=bool), start, 0.0
        while True:  # Dijkstra's shortest path from the new row to a column that has no row
            through = reached + cost[row] - row_price[row] - column_price
            nearer = free & (through < distance)
            distance[nearer], before[nearer] = through[nearer], row
            column = int(np.where(free, distance, np.inf).argmin())
            reached = float(distance[column])
            if row_of[column] < 0:
                break
            free[column], row = False, int(row_of[column])
        passed = np.flatnonzero(~free)
        row_price[row_of[passed]] += reached - distance[passed]
        column_price[passed] -= reached - distance[passed]
        row_price[start] += reached
        row = -1
        while row != start:  # each row on the path takes the column that it led to
            row = int(before[column])
            row_of[column] = row
            column_of[row], column = column, int(column_of[row])
    return np.arange(row_count), column_of
