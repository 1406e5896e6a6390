from django.db import migrations

from fleet.core.audit_chain import canonical_of, chain_of
from fleet.core.merkle import Tree, leaf_hash


def give_places(apps, schema_editor):
    """Chain what was written before there was a chain, in the order it was written."""
    entries = apps.get_model("core", "AuditEntry")
    heads = apps.get_model("core", "AuditHead")
    trees, last = {}, {}
    for entry in entries.objects.order_by("pk").iterator(chunk_size=1000):
        chain = chain_of(entry.company_id)
        tree = trees.get(chain, Tree())
        entry.chain, entry.sequence, entry.previous_hash = chain, tree.size + 1, last.get(chain, "")
        entry.canonical = canonical_of(entry)
        leaf = leaf_hash(entry.canonical)
        entry.entry_hash = last[chain] = leaf.hex()
        trees[chain] = tree.grown(leaf)
        entry.save(update_fields=["chain", "sequence", "previous_hash", "canonical", "entry_hash"])
    for chain, tree in trees.items():
        heads.objects.create(
            chain=chain, size=tree.size, last_hash=last[chain], peaks=[peak.hex() for peak in tree.peaks]
        )


class Migration(migrations.Migration):
    dependencies = [("core", "0003_audit_chain")]

    operations = [migrations.RunPython(give_places, migrations.RunPython.noop)]
