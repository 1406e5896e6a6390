"""The next certificate number of a company and year, taken under a row lock."""

from fleet.accounts.models import Company
from fleet.certificates.models import NumberSeries


def number_take(*, company: Company, year: int) -> str:
    """Take the next number; call inside the transaction that uses it, so that a rollback leaves no gap."""
    NumberSeries.objects.get_or_create(company=company, year=year)
    series = NumberSeries.objects.select_for_update().get(company=company, year=year)
    series.last += 1
    series.save(update_fields=["last"])
    return f"{company.short_code}-{year}-{series.last:04d}"
