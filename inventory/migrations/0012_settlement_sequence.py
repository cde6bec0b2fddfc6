from django.db import migrations


def lift_trigger(schema_editor, table):
    """Appended rows refuse an edit; the trigger is put back after every migrate."""
    on = "" if schema_editor.connection.vendor == "sqlite" else f' ON "{table}"'
    schema_editor.execute(f"DROP TRIGGER IF EXISTS {table}_appended{on}")


def count_through(apps, schema_editor):
    """Settlements made so far get their place in the lot's own count, in the order in which they were approved."""
    lift_trigger(schema_editor, "inventory_settlement")
    Settlement = apps.get_model("inventory", "Settlement")
    rows = Settlement.objects.filter(sequence__isnull=True).order_by("pk")
    for place, pk in enumerate(rows.values_list("pk", flat=True), start=1):
        Settlement.objects.filter(pk=pk).update(sequence=place, pay_on=day_of(Settlement, pk))


def day_of(Settlement, pk):
    """The statements so far were reckoned for the day they were approved on."""
    return Settlement.objects.values_list("on", flat=True).get(pk=pk)


class Migration(migrations.Migration):
    dependencies = [("inventory", "0011_agreements_and_papers")]
    operations = [migrations.RunPython(count_through, migrations.RunPython.noop)]
